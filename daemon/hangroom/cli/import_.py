"""`hangroom import`: weights and temperatures from CSV files, whole records from an export.

Whatever is wrong with a file is told all at once, and then nothing of it is stored. The same file
twice changes nothing.
"""

import argparse
import json
import zipfile
import zlib
from pathlib import Path
from zoneinfo import ZoneInfo

from sqlite_utils import Database

from hangroom.cli.records import records
from hangroom.errors import InputError
from hangroom.hardware.clock import SystemClock
from hangroom.settings import read_settings
from hangroom.store.batches import batch
from hangroom.store.record.loggers import read_temperatures, read_weights, series_key
from hangroom.store.record.photos import MOST_BYTES, photo_names, restore_photo
from hangroom.store.record.restoring import restore
from hangroom.store.record.series import Origin, Series, SeriesKind, add_series
from hangroom.store.weigh_ins import (
    Question,
    add_weigh_ins,
    questions,
    stored_weight_g,
    tags_in_use,
)


def run(given: argparse.Namespace) -> int:
    """Take a file in and say what came of it."""
    settings = read_settings(given.settings)
    with records(settings.store.folder, make=True) as db:
        try:
            match given.kind:
                case "weights":
                    said = _weights(db, given, settings.zone())
                case "temperatures":
                    said = _temperatures(db, given, settings.zone())
                case "json":
                    said = _json(db, given.file)
                case _:
                    said = _photos(db, settings.store.folder, given.file)
        except InputError as fault:
            lines = [f"{given.file}: {line}" for line in str(fault).splitlines()]
            raise InputError("\n".join([*lines, "Nothing was stored."])) from None
    print(*said, sep="\n")
    return 0


def _weights(db: Database, given: argparse.Namespace, zone: ZoneInfo) -> list[str]:
    now = SystemClock().now()
    filed = read_weights(_text(given.file), zone=zone, now=now, by=f"file {given.file.name}")
    known = tags_in_use(db)
    strangers = [
        f"line {one.line}: no stick bears the tag {one.entry.tag}. Check the tag."
        for one in filed
        if one.entry.tag not in known
    ]
    if strangers:
        raise InputError("\n".join(strangers))
    lines = {one.entry.key: one.line for one in filed}
    entries = [one.entry for one in filed]
    if not given.confirm and (asked := questions(db, entries)):
        raise InputError(
            "\n".join(f"line {lines[one.entry.key]}: {_said(one)}" for one in asked)
            + "\nMend the file, or store it as it is with --confirm."
        )
    new = {entry.key for entry in add_weigh_ins(db, entries)}
    differing = [
        f"Line {lines[entry.key]}: {entry.tag} is kept with {kept_g:g} g, not {entry.weight_g:g} g,"
        " and was left so. Correct it on the page."
        for entry in entries
        if entry.key not in new
        and (kept_g := stored_weight_g(db, entry.key)) not in (None, entry.weight_g)
    ]
    return [f"{len(new)} weigh-ins stored, {len(filed) - len(new)} were here already.", *differing]


def _said(question: Question) -> str:
    entry, slip = question.entry, question.slip
    meant = "" if slip.meant_g is None else f" {slip.meant_g:g} g may have been meant."
    return (
        f"{entry.weight_g:g} g for {entry.tag}: {slip.kind}? It was {question.last_g:g} g.{meant}"
    )


def _temperatures(db: Database, given: argparse.Namespace, zone: ZoneInfo) -> list[str]:
    if given.batch is None or given.part is None or not given.probe:
        raise InputError(
            "say of which batch and part it is, and where the probe sat: --batch N --part cook"
            ' --probe "thickest stick, middle".'
        )
    found = batch(db, given.batch)
    if found is None:
        raise InputError(f"there is no batch {given.batch}. Check the number.")
    points = read_temperatures(_text(given.file), zone=zone)
    if not points:
        raise InputError("there is no reading in it.")
    series = Series(
        key=series_key(found.key, given.part, given.group or "", given.probe, points=points),
        kind=SeriesKind(given.part),
        group=given.group,
        probe=given.probe,
        origin=Origin.CSV,
        points=points,
        entered_at=SystemClock().now(),
        entered_by=f"file {given.file.name}",
    )
    if add_series(db, found.number, series):
        return [f"{len(points)} readings stored with batch {found.number}."]
    return [f"These {len(points)} readings are with batch {found.number} already."]


def _json(db: Database, file: Path) -> list[str]:
    try:
        document = json.loads(_text(file))
    except (ValueError, RecursionError) as fault:
        raise InputError(f"it is no JSON ({fault}). Take a file made by hangroom export.") from None
    restored = restore(db, document)
    said = ", ".join(f"{count} {table}" for table, count in restored.stored.items()) or "nothing"
    return [
        f"Stored: {said}. {restored.already} rows were here already.",
        *(
            f"Batch {old} of the file is batch {new} here."
            for old, new in restored.renumbered.items()
        ),
        *(f"{row} is otherwise here, and was left so." for row in restored.differing),
    ]


def _photos(db: Database, folder: Path, file: Path) -> list[str]:
    names = photo_names(db)
    faults, kept = [], 0
    try:
        with zipfile.ZipFile(file) as held:
            for info in held.infolist():
                if info.filename not in names:
                    faults.append(f"{info.filename} is a photo of no batch here.")
                elif info.file_size > MOST_BYTES:
                    faults.append(f"{info.filename} is larger than any photo kept here.")
                elif not restore_photo(folder, info.filename, held.read(info)):
                    faults.append(f"{info.filename} is damaged: it is not the photo of that name.")
                else:
                    kept += 1
    except OSError as fault:
        raise InputError(f"it cannot be read ({fault.strerror}).") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, RuntimeError) as fault:
        raise InputError(f"it is no zip file of photos ({fault}).") from None
    return [f"{kept} photos are in their place, {len(names)} belong to the records.", *faults]


def _text(file: Path) -> str:
    try:
        return file.read_text(encoding="utf-8-sig")
    except OSError as fault:
        raise InputError(f"it cannot be read ({fault.strerror}).") from None
    except UnicodeDecodeError as fault:
        raise InputError(f"it is no UTF-8 text ({fault}). Save it anew as UTF-8.") from None
