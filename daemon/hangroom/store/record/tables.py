"""The tables that a record is spread over, as they are written out: rows of plain values.

What is written follows the tables themselves, so that a column that comes later is written too. A
column `x_ms` is `x_at`, ISO 8601 in UTC; one with the row id of another table bears that table's
name and holds that row's key; flags are true or false; what is JSON in the table is a part of the
whole. Row ids stay behind: they mean nothing in another database. Owns no table.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from sqlite_utils import Database

from hangroom.store.moments import from_ms
from hangroom.store.record.entries import Sql

# In the order they can be stored in: what is pointed at comes first.
TABLES = (
    "batch",
    "stick_group",
    "stick",
    "hang",
    "weigh_in",
    "recipe_line",
    "frozen_sums",
    "step",
    "series",
    "series_point",
    "measurement",
    "look",
    "photo",
    "finish_profile",
    "edit",
)
FLAGS = frozenset({"sample", "poultry"})
JSON_COLUMNS = frozenset({"sums", "surface", "old", "new"})

Row = dict[str, object]


class Form(StrEnum):
    """What a column holds."""

    MOMENT = "a time, such as 2026-11-01T14:00:00+00:00"
    KEY = "the key of another row"
    FLAG = "true or false"
    JSON = "JSON"
    WHOLE = "a whole number"
    REAL = "a number"
    TEXT = "a text"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: its name in the table and as written, and the table whose key it is, if any."""

    name: str
    written: str
    form: Form
    needed: bool
    points_at: str | None


def columns_of_table(db: Database, table: str) -> tuple[Column, ...]:
    """Return a table's columns without its row id."""
    points_at = {
        column: other
        for _, _, other, column, to, *_ in db.execute(f"pragma foreign_key_list({table})")
        if to == "id"
    }
    return tuple(
        _column(name, declared, needed=bool(not_null) and default is None, of=points_at.get(name))
        for _, name, declared, not_null, default, _ in db.execute(f"pragma table_info({table})")
        if name != "id"
    )


def rows_of_table(
    db: Database, table: str, key: str | None = None, *, batch: int | None = None
) -> Iterator[Row]:
    """Return a table's rows as they are written, in the order they came.

    With `key` only the row of that key, with `batch` only those of the batch of that number.
    """
    columns = columns_of_table(db, table)
    selected = ", ".join(
        f"(select key from {column.points_at} where id = {table}.{column.name})"  # noqa: S608
        if column.points_at
        else f"{table}.{column.name}"
        for column in columns
    )
    wanted = [] if key is None else ["key = :key"]
    wanted += [] if batch is None else [_of_batch(db, table)]
    where = f"where {' and '.join(wanted)}" if wanted else ""
    rows = db.execute(
        f"select {selected} from {table} {where} order by {order_of(db, table)}",  # noqa: S608
        {"key": key, "batch": batch},
    )
    for row in rows:
        yield {
            column.written: _written(column, value)
            for column, value in zip(columns, row, strict=True)
        }


def order_of(db: Database, table: str) -> str:
    """Return what tells a table's rows apart: its row id, or the columns that stand for one."""
    own = sorted(
        (place, name)
        for _, name, _, _, _, place in db.execute(f"pragma table_info({table})")
        if place
    )
    return ", ".join(name for _, name in own)


def _of_batch(db: Database, table: str) -> str:
    """Return the condition for the rows of one batch, along the keys by which rows are owned."""
    if table == "batch":
        return "number = :batch"
    owners = {column.points_at: column.name for column in columns_of_table(db, table)}
    owner = next(other for other in ("batch", "stick_group", "stick", "series") if other in owners)
    return f"{owners[owner]} in (select id from {owner} where {_of_batch(db, owner)})"  # noqa: S608


def _column(name: str, declared: str, *, needed: bool, of: str | None) -> Column:
    written, form = name, {"INTEGER": Form.WHOLE, "REAL": Form.REAL}.get(declared, Form.TEXT)
    if of is not None:
        written, form = of, Form.KEY
    elif name.endswith("_ms"):
        written, form = f"{name.removesuffix('_ms')}_at", Form.MOMENT
    elif name in FLAGS:
        form = Form.FLAG
    elif name in JSON_COLUMNS:
        form = Form.JSON
    return Column(name=name, written=written, form=form, needed=needed, points_at=of)


def _written(column: Column, value: Sql) -> object:
    if value is None:
        return None
    match column.form:
        case Form.MOMENT:
            return from_ms(int(value)).isoformat(timespec="milliseconds")
        case Form.FLAG:
            return bool(value)
        case Form.JSON:
            return json.loads(str(value))
        case _:
            return value
