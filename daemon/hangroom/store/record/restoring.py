"""Taking exported records into an empty or another database: all of them, or none. Owns no table.

A row whose key is here already stays as it is, so that the same file twice changes nothing; where
the two differ, that is told and not decided. Whatever does not fit is told all at once.
"""

import json
import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import isfinite

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.database import durably
from hangroom.store.moments import to_ms
from hangroom.store.record.archive import FORMAT, VERSION
from hangroom.store.record.entries import Sql
from hangroom.store.record.tables import TABLES, Column, Form, columns_of_table, order_of
from hangroom.store.record.whole import batch_record

LARGEST_WHOLE = 2**63 - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What came of it: rows stored by table, rows that were here already, those that differ.

    `renumbered` has the number that a batch has here by the one it has in the file.
    """

    stored: Mapping[str, int]
    already: int
    differing: tuple[str, ...]
    renumbered: Mapping[int, int]


def restore(db: Database, document: object) -> Restored:
    """Store every record of an exported object that is not here yet.

    Raises InputError with a line for each fault; nothing is stored then.
    """
    faults: list[str] = []
    rows = list(_rows(db, document, faults))
    _refuse(faults)
    taking = _Taking(db)
    with durably(db):
        for table, number, row in rows:
            try:
                taking.take(table, number, row)
            except InputError as fault:
                faults.append(f"{table} {number}: {fault}")
            except sqlite3.IntegrityError as fault:
                faults.append(f"{table} {number}: {_misfit(fault)}")
        if taking.stored and not faults:
            faults += [*taking.dangling(), *_unreadable(db, rows)]
        _refuse(faults)
    return Restored(
        stored=taking.stored,
        already=taking.already,
        differing=tuple(taking.differing),
        renumbered=taking.renumbered,
    )


def _refuse(faults: list[str]) -> None:
    if faults:
        raise InputError("\n".join(faults))


def _rows(
    db: Database, document: object, faults: list[str]
) -> Iterator[tuple[str, int, dict[Column, object]]]:
    """Yield table, place and values of every row; what is wrong with one is added to `faults`."""
    match document:
        case {"format": str(said), "version": int(version), "tables": dict(tables)}:
            pass
        case _:
            said, version, tables = "", 0, {}
    if said != FORMAT:
        faults.append('This is no hangroom record; it must be a file made by "hangroom export".')
        return
    if version != VERSION:
        faults.append(
            f"The file has version {version}, this hangroom reads {VERSION}. Install a newer one."
        )
        return
    faults += [f"{name}: there is no such table." for name in tables if name not in TABLES]
    for table in TABLES:
        columns = columns_of_table(db, table)
        rows = tables.get(table, [])
        if not isinstance(rows, list):
            faults.append(f"{table}: a list of rows is needed.")
            continue
        for number, row in enumerate(rows, start=1):
            found = _values(columns, row)
            faults += [f"{table} {number}: {fault}" for fault in found.faults]
            yield table, number, found.values


@dataclass(frozen=True, slots=True)
class _Read:
    values: dict[Column, object]
    faults: list[str]


def _values(columns: tuple[Column, ...], row: object) -> _Read:
    if not isinstance(row, dict):
        return _Read({}, ["it is no object."])
    values: dict[Column, object] = {}
    known = {column.written for column in columns}
    faults = [f"it has no {name!r} here." for name in row if name not in known]
    for column in columns:
        value = row.get(column.written)
        if value is None:
            if column.needed:
                faults.append(f"{column.written} is missing.")
        elif _fits(column.form, value):
            values[column] = value
        else:
            faults.append(f"{column.written} is {value!r}; it must be {column.form}.")
    return _Read(values, faults)


def _fits(form: Form, value: object) -> bool:
    fits = False
    match form, value:
        case _, bool():
            fits = form is Form.FLAG
        case Form.MOMENT, str():
            fits = _is_moment(value)
        case ((Form.KEY | Form.TEXT), str()):
            # JSON allows half of a character pair, which is no text.
            fits = value.encode(errors="replace").decode() == value
        case Form.WHOLE, int():
            fits = abs(value) <= LARGEST_WHOLE
        case Form.REAL, int() | float():
            fits = isfinite(value)
        case Form.JSON, dict() | list():
            fits = True
    return fits


def _is_moment(text: str) -> bool:
    try:
        return datetime.fromisoformat(text).utcoffset() is not None
    except ValueError:
        return False


class _Taking:
    """Stores rows one by one, in the caller's transaction, and counts what came of them."""

    def __init__(self, db: Database) -> None:
        self._db = db
        self.stored: Counter[str] = Counter()
        self.already = 0
        self.differing: list[str] = []
        self.renumbered: dict[int, int] = {}

    def take(self, table: str, place: int, values: Mapping[Column, object]) -> None:
        """Store a row, unless one of its key is here; InputError where it points at nothing."""
        row = {column.name: self._sql(column, value) for column, value in values.items()}
        names, places = ", ".join(row), ", ".join("?" * len(row))
        same = "key" if "key" in row else order_of(self._db, table)
        here = self._db.execute(
            f"select {names} from {table} where ({same}) = ({_places(same)})",  # noqa: S608
            tuple(row[name] for name in same.split(", ")),
        ).fetchone()
        if here is not None:
            self.already += 1
            own = "number" if table == "batch" else None
            if any(name != own and held != row[name] for name, held in zip(row, here, strict=True)):
                self.differing.append(f"{table} {place}")
            return
        if table == "batch":
            row["number"] = self._free_number(row["number"])
        self._db.execute(
            f"insert into {table} ({names}) values ({places})",  # noqa: S608 - the tables' own names
            tuple(row.values()),
        )
        self.stored[table] += 1

    def dangling(self) -> list[str]:
        """Name what points at a group that is neither here nor in the file."""
        found = self._db.execute("pragma foreign_key_check(stick_group)").fetchall()
        return [
            f"{table}: a group is to be as dry as one that is not there." for table, *_ in found
        ]

    def _sql(self, column: Column, value: object) -> Sql:
        match column.form, value:
            case Form.MOMENT, str():
                return to_ms(datetime.fromisoformat(value))
            case Form.KEY, str():
                found = self._db.execute(
                    f"select id from {column.points_at} where key = ?",  # noqa: S608 - our own names
                    (value,),
                ).fetchone()
                if found is None:
                    raise InputError(f"its {column.written} {value!r} is not there.")
                return int(found[0])
            case Form.JSON, _:
                return json.dumps(value)
            case Form.REAL, int() | float():
                return float(value)
            case _, bool():
                return int(value)
            case _, str() | int():
                return value
        raise TypeError(f"{column.written} does not hold {value!r}")

    def _free_number(self, wanted: Sql) -> int:
        taken = self._db.execute("select 1 from batch where number = ?", (wanted,)).fetchone()
        if taken is None:
            return int(wanted or 0)
        (free,) = self._db.execute("select max(number) + 1 from batch").fetchone()
        self.renumbered[int(wanted or 0)] = int(free)
        return int(free)


def _misfit(fault: sqlite3.IntegrityError) -> str:
    said = str(fault)
    if said.startswith("UNIQUE"):
        return (
            f"another row here has the same {said.partition(': ')[2]}. "
            "Change one of the two on its own page, then export again."
        )
    return f"its values cannot be ({said})."


def _places(names: str) -> str:
    return ", ".join("?" * len(names.split(", ")))


def _unreadable(db: Database, rows: list[tuple[str, int, dict[Column, object]]]) -> Iterator[str]:
    """Name every batch of the file whose record cannot be read back as what it should be."""
    for table, place, values in rows:
        if table != "batch":
            continue
        key = next(value for column, value in values.items() if column.name == "key")
        (number,) = db.execute("select number from batch where key = ?", (key,)).fetchone()
        try:
            batch_record(db, number)
        except (InputError, ValueError, TypeError) as fault:
            yield f"batch {place}: its record cannot be read back: {fault}"
