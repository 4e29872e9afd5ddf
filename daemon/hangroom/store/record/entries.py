"""What every entry of a batch's record is, and how a frozen dataclass becomes a row and comes back.

An entry has a key, made where it is typed, so that sent twice it is one; it says when and by whom
it was entered; struck out, it stays in the table and is no longer read. A field `x_at` is the
column `x_ms`; `group` is a group's letter, None for the whole batch; any other field and its column
bear one name. Owns no table.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from enum import StrEnum
from functools import cache
from typing import Any, ClassVar, TypeVar, get_args, get_type_hints

from sqlite_utils import Database

from hangroom.store.batch_facts import GroupName
from hangroom.store.batches import batch_id_of, group_named
from hangroom.store.checks import LONGEST_KEY, LONGEST_NAME, check_aware, check_text
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

Sql = str | int | float | None

# In a field's metadata: how its value becomes what the column holds, and how it comes back.
STORED, READ = "stored", "read"

# Fields without a column: where the row belongs, and what lies in a table of its own.
GROUP, NO_COLUMN = "group", frozenset({"group", "points"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What every entry says; raises InputError for what cannot be."""

    TABLE: ClassVar[str]
    ORDER: ClassVar[str] = "id"

    key: str
    entered_at: datetime
    entered_by: str
    struck_at: datetime | None = None

    def __post_init__(self) -> None:
        check_text("entry's key", self.key, needed=True, longest=LONGEST_KEY)
        check_text("name of who entered it", self.entered_by, longest=LONGEST_NAME)
        check_aware("time it was entered", self.entered_at)


EntryT = TypeVar("EntryT", bound=Entry)


def add_entry(db: Database, batch_number: int, entry: Entry) -> bool:
    """Store an entry and return True, or False where the same key is already stored.

    Raises InputError where there is no such batch or group.
    """
    with durably(db):
        return insert_entry(db, batch_number, entry)


def insert_entry(db: Database, batch_number: int, entry: Entry) -> bool:
    """Do the same in the caller's transaction."""
    row: dict[str, Sql] = {"batch_id": batch_id_of(db, batch_number), **row_of(entry)}
    letter = getattr(entry, GROUP, None)
    if letter is not None:
        row["group_id"], _ = group_named(db, GroupName(batch=batch_number, letter=letter))
    names, places = ", ".join(row), ", ".join("?" * len(row))
    done = db.execute(
        # The names are those of our own dataclasses.
        f"insert into {entry.TABLE} ({names}) values ({places}) on conflict (key) do nothing",  # noqa: S608
        tuple(row.values()),
    )
    return bool(done.rowcount)


def entries_of(db: Database, kind: type[EntryT], batch_id: int) -> list[EntryT]:
    """Return a batch's entries of a kind that are not struck out, in the kind's order."""
    table, columns = kind.TABLE, columns_of(kind)
    selected, join = [f"{table}.{column}" for column in columns.values()], ""
    names = list(columns)
    if GROUP in kind.__dataclass_fields__:
        names.append(GROUP)
        selected.append("letter")
        join = "left join stick_group on stick_group.id = group_id"
    rows = db.execute(
        f"select {', '.join(selected)} from {table} {join}"  # noqa: S608 - our own names
        f" where {table}.batch_id = ? and struck_ms is null order by {table}.{kind.ORDER},"
        f" {table}.id",
        (batch_id,),
    )
    return [kind(**values_read(kind, dict(zip(names, row, strict=True)))) for row in rows]


def columns_of(kind: type) -> Mapping[str, str]:
    """Return the column of each field that has one."""
    return {
        field.name: f"{field.name[:-3]}_ms" if field.name.endswith("_at") else field.name
        for field in fields(kind)
        if field.name not in NO_COLUMN
    }


def row_of(of: Any) -> dict[str, Sql]:  # noqa: ANN401 - any dataclass that follows the rule above
    """Return what the columns hold of a dataclass."""
    return {
        column: column_value(type(of), name, getattr(of, name))
        for name, column in columns_of(type(of)).items()
    }


def column_value(kind: type, name: str, value: object) -> Sql:
    """Return what the column holds of a field's value."""
    own: Callable[[Any], Sql] | None = next(
        field.metadata.get(STORED) for field in fields(kind) if field.name == name
    )
    if value is None:
        return None
    if own is not None:
        return own(value)
    match value:
        case datetime():
            return to_ms(value)
        case StrEnum():
            return str(value)
        case bool():
            return int(value)
        case str() | int() | float():
            return value
    raise TypeError(f"no column holds {value!r}")


def values_read(kind: type, row: Mapping[str, Sql]) -> dict[str, Any]:
    """Return fields' values from what their columns hold, by the fields' names."""
    read = _readers(kind)
    return {
        name: value if value is None or name not in read else read[name](value)
        for name, value in row.items()
    }


@cache
def _readers(kind: type) -> Mapping[str, Callable[[Any], Any]]:
    hints = get_type_hints(kind)
    readers = {}
    for field in fields(kind):
        hint = next(iter(get_args(hints[field.name])), hints[field.name])
        if READ in field.metadata:
            readers[field.name] = field.metadata[READ]
        elif hint is datetime:
            readers[field.name] = from_ms
        elif isinstance(hint, type) and issubclass(hint, StrEnum | bool):
            readers[field.name] = hint
    return readers
