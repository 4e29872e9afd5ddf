"""All records as one JSON object, and as CSV files for a spreadsheet. Owns no table.

The object:

    {"format": "hangroom record", "version": 1, "exported_at": TIME,
     "tables": {"batch": [ROW, ...], "stick_group": [...], ...}}

with the rows that `hangroom.store.record.tables` describes: SI units, each name ends in its unit,
numbers exact to the last bit. Rows point at each other by `key`. Entries that were struck out and
what was corrected are in it too. Photos are named by their checksum; the files go beside it.
`version` goes up when a reader of the old form could be misled, not when a column comes to it.
"""

import csv
import io
import json
from collections.abc import Mapping
from datetime import datetime
from hashlib import sha256

from sqlite_utils import Database

from hangroom.product.csv_cells import csv_cell
from hangroom.store.record.tables import TABLES, Row, columns_of_table, rows_of_table

FORMAT, VERSION = "hangroom record", 1

# In front of every row of a spreadsheet: whose it is, in words instead of keys.
OWNER = ("batch", "group", "stick")
_POINTERS = ("batch", "stick_group", "stick", "series")


def exported(db: Database, *, now: datetime, batch: int | None = None) -> dict[str, object]:
    """Return all records, or those of one batch, as one object for `json.dumps`, of one moment."""
    with db.atomic():
        tables = {table: list(rows_of_table(db, table, batch=batch)) for table in TABLES}
    return {
        "format": FORMAT,
        "version": VERSION,
        "exported_at": now.isoformat(timespec="seconds"),
        "tables": tables,
    }


def fingerprint(document: Mapping[str, object]) -> str:
    """Return the SHA-256 of an exported object's tables: the same for the same records, whenever.

    Of their JSON, keys in order, without spaces, as UTF-8.
    """
    plain = json.dumps(
        document["tables"], sort_keys=True, ensure_ascii=False, separators=(",", ":")
    )
    return sha256(plain.encode()).hexdigest()


def spreadsheets(db: Database, *, batch: int | None = None) -> dict[str, str]:
    """Return the text of one CSV file per table, by its name, of all batches or of one.

    Rows say batch, group and stick. A text that a spreadsheet would run has a ' in front.
    """
    files: dict[str, str] = {}
    owners: dict[tuple[str, object], Row] = {}
    with db.atomic():
        for table in TABLES:
            names = [column.written for column in columns_of_table(db, table)]
            kept = [name for name in names if name not in _POINTERS]
            text = io.StringIO()
            out = csv.DictWriter(text, fieldnames=[*OWNER, *kept])
            out.writeheader()
            for row in rows_of_table(db, table, batch=batch):
                owner = _owner(table, row, owners)
                owners[table, row.get("key")] = owner
                cells = owner | {name: _cell(row[name]) for name in kept}
                out.writerow({name: csv_cell(value) for name, value in cells.items()})
            files[f"{table}.csv"] = text.getvalue()
    return files


def _owner(table: str, row: Row, owners: Mapping[tuple[str, object], Row]) -> Row:
    owner: Row = dict.fromkeys(OWNER, "")
    for other in _POINTERS:
        if row.get(other) is not None:
            owner |= {name: said for name, said in owners[other, row[other]].items() if said != ""}
    match table:
        case "batch":
            owner["batch"] = row["number"]
        case "stick_group":
            owner["group"] = row["letter"]
        case "stick":
            owner["stick"] = row["tag"]
    return owner


def _cell(value: object) -> object:
    match value:
        case bool():
            return "yes" if value else "no"
        case dict() | list():
            return json.dumps(value)
        case _:
            return value
