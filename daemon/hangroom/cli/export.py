"""`hangroom export`: records, air and alarms to a file, for safe keeping or a spreadsheet."""

import argparse
import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path

from sqlite_utils import Database

from hangroom.cli.records import records
from hangroom.errors import StoreError
from hangroom.hardware.clock import SystemClock
from hangroom.product.csv_cells import csv_row
from hangroom.settings import read_settings
from hangroom.store.air_archive import AIR, ALARM_HEADS, alarms
from hangroom.store.batches import batch_ids
from hangroom.store.record.archive import exported, spreadsheets
from hangroom.store.record.photos import photo_file, photo_names


def run(given: argparse.Namespace) -> int:
    """Write the file whole or not at all, and say what is in it."""
    folder = read_settings(given.settings).store.folder
    with records(folder, make=False) as db:
        said = _written(given.to, lambda fresh: KINDS[given.kind](db, folder, fresh))
    print(f"{given.to}: {said}")
    return 0


def _json(db: Database, _folder: Path, fresh: Path) -> str:
    document = exported(db, now=SystemClock().now())
    with fresh.open("w", encoding="utf-8") as out:
        json.dump(document, out, ensure_ascii=False, allow_nan=False, indent=1)
    beside = " The photos go apart, with `hangroom export photos`." if photo_names(db) else ""
    return f"{len(batch_ids(db))} batches with all that was kept of them.{beside}"


def _csv(db: Database, _folder: Path, fresh: Path) -> str:
    files = spreadsheets(db)
    with zipfile.ZipFile(fresh, "w", zipfile.ZIP_DEFLATED) as out:
        for name, text in files.items():
            # With the mark at its start a spreadsheet program knows the text for UTF-8.
            out.writestr(name, text.encode("utf-8-sig"))
    return f"{len(files)} tables."


def _photos(db: Database, folder: Path, fresh: Path) -> str:
    files = [photo_file(folder, name) for name in sorted(photo_names(db))]
    there = [file for file in files if file.is_file()]
    with zipfile.ZipFile(fresh, "w", zipfile.ZIP_STORED) as out:
        for file in there:
            out.write(file, file.name)
    return f"{len(there)} photos of the {len(files)} that the records know."


def _air(db: Database, _folder: Path, fresh: Path) -> str:
    said = []
    with zipfile.ZipFile(fresh, "w", zipfile.ZIP_DEFLATED) as out:
        for name, (heads, rows) in AIR.items():
            # Its length is not known before: years of readings go through, none is held.
            with (
                out.open(name, "w", force_zip64=True) as member,
                io.TextIOWrapper(member, encoding="utf-8-sig", newline="") as text,
            ):
                said.append(f"{_lines(text, heads, rows(db))} rows in {name}")
    return f"{', '.join(said)}."


def _alarms(db: Database, _folder: Path, fresh: Path) -> str:
    with fresh.open("w", encoding="utf-8-sig", newline="") as out:
        return f"{_lines(out, ALARM_HEADS, alarms(db))} lines of the alarm log."


def _lines(out: io.TextIOBase, heads: Iterable[str], rows: Iterable[Iterable[object]]) -> int:
    """Write rows below their heads and return how many; a text that would run has a ' in front."""
    writer, count = csv.writer(out), 0
    writer.writerow(heads)
    for row in rows:
        writer.writerow(csv_row(row))
        count += 1
    return count


KINDS: dict[str, Callable[[Database, Path, Path], str]] = {
    "json": _json,
    "csv": _csv,
    "photos": _photos,
    "air": _air,
    "alarms": _alarms,
}


def _written(file: Path, write: Callable[[Path], str]) -> str:
    fresh = file.with_name(f"{file.name}.new")
    try:
        said = write(fresh)
        fresh.replace(file)
    except OSError as fault:
        fresh.unlink(missing_ok=True)
        raise StoreError(
            f"{file} cannot be written ({fault.strerror}). Name another place with --to."
        ) from fault
    return said
