"""Putting a backup back: made ready beside what is there, then exchanged, the old state kept.

The exchange of the database is one rename, so that at any moment, through a kill or a power cut,
the folder holds the whole old one or the whole new one.
"""

import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from hangroom.errors import HangroomError, InputError, StoreError
from hangroom.store.backup.checking import check_whole_file, unpack
from hangroom.store.backup.copying import (
    check_space,
    damage_in,
    household_of,
    opened_still,
    opened_to_look,
)
from hangroom.store.backup.machine import keep_of_this_machine
from hangroom.store.backup.manifest import DATABASE, SETTINGS, Manifest
from hangroom.store.database import FILE_NAME, connect, explained, known_steps, prepare_database
from hangroom.store.history import last_seen_at
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.record.photos import FOLDER as PHOTOS

# What SQLite keeps beside a database that was not closed.
BESIDE = ("-wal", "-shm", "-journal")
# For daemon, page and notices, which are users of one group.
SHARED, SHARED_FOLDER = 0o660, 0o2770

SETTINGS_BESIDE = "settings-of-the-backup.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class Present:
    """What a database holds, in the counts that a keeper knows; `seen_at`: its daemon's last word.

    `household` is empty where the database is too old to tell; of a `damaged` one nothing is known.
    """

    batches: int
    weigh_ins: int
    readings: int
    seen_at: datetime | None
    household: str = ""
    damaged: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ready:
    """A backup that was found in order and lies unpacked, brought to this version's shape."""

    folder: Path
    manifest: Manifest
    holds: Present


def look_at(file: Path) -> Manifest:
    """Return what a backup says of itself, having read it all; InputError where it is no good."""
    manifest = check_whole_file(file)
    if set(manifest.steps) - known_steps():
        raise InputError(_newer(manifest))
    return manifest


@contextmanager
def made_ready(file: Path, folder: Path, *, now: datetime) -> Iterator[Ready]:
    """Unpack a backup beside the database and bring it to this version's shape.

    What is there stays as it is. Raises InputError where the file is no good, StoreError where the
    disk has no room. It is gone again when the block ends, but for what was put in its place.
    """
    manifest = look_at(file)
    folder.mkdir(parents=True, exist_ok=True)
    for left in folder.glob(".restoring-*"):
        shutil.rmtree(left, ignore_errors=True)  # of a restore that was cut short
    ready = folder / f".restoring-{now:%Y%m%d-%H%M%S}"
    try:
        _make_ready(file, manifest, ready, folder / FILE_NAME, now=now)
        yield Ready(folder=ready, manifest=manifest, holds=_of(ready / FILE_NAME))
    finally:
        shutil.rmtree(ready, ignore_errors=True)


def _make_ready(
    file: Path, manifest: Manifest, ready: Path, present: Path, *, now: datetime
) -> None:
    try:
        # Twice the database: a new step may write all of it once more.
        check_space(ready.parent, needs=2 * manifest.unpacked_bytes)
        ready.mkdir(0o700)
        unpack(file, ready)
    except OSError as fault:
        raise StoreError(
            f"It cannot be unpacked in {ready.parent}: {fault.strerror}. Nothing was changed. Run "
            "this as the user that runs hangroom, or as root, and see that there is room."
        ) from fault
    _check_database(ready / DATABASE, manifest)
    prepare_database(ready)
    with explained(ready / FILE_NAME), closing(connect(ready / FILE_NAME)) as db:
        keep_of_this_machine(db, present, now=now)
        db.execute("pragma journal_mode = delete")  # one file, nothing beside it


def present(folder: Path) -> Present | None:
    """Return what the database of a folder holds; None without one."""
    path = folder / FILE_NAME
    return _of(path) if path.is_file() else None


def put_in_place(ready: Ready, folder: Path, *, now: datetime) -> Path | None:
    """Exchange what is there for what was made ready; return where the old state lies, if any.

    StoreError where the database is in use or the disk refuses; the old one then still stands.
    """
    path, photos, aside = folder / FILE_NAME, folder / PHOTOS, _new_name(folder, now)
    try:
        aside.mkdir(SHARED_FOLDER)
        _settle(path, aside)
        old = _keep_beside(folder, aside)
        new = _photos(ready.folder)
        owner = folder.stat()
        photos.mkdir(SHARED_FOLDER, exist_ok=True)
        _share(photos, owner, SHARED_FOLDER)
        for photo in new:
            _share(photo, owner, SHARED)
            # A photo's name is its checksum: one that is there already is the same.
            photo.replace(photos / photo.name)
        _sync(photos)
        for ending in BESIDE:
            with suppress(FileNotFoundError):
                (folder / f"{FILE_NAME}{ending}").replace(aside / f"{FILE_NAME}{ending}")
        _share(ready.folder / FILE_NAME, owner, SHARED)
        (ready.folder / FILE_NAME).replace(path)
        _sync(folder)
    except OSError as fault:
        raise StoreError(
            f"It was not put in place: {fault.strerror}. What was there is still there, in "
            f"{folder} or {aside}. Run this as the user that runs hangroom, or as root."
        ) from fault
    # The new one stands; what follows only tidies.
    with suppress(OSError):
        for name in {photo.name for photo in old} - {photo.name for photo in new}:
            (photos / name).unlink()
        for made in (aside, aside / PHOTOS):
            if made.is_dir():
                _share(made, owner, SHARED_FOLDER)
        if not any(aside.iterdir()):
            aside.rmdir()
    return aside if aside.is_dir() else None


def _new_name(folder: Path, now: datetime) -> Path:
    aside = folder / f"before-restore-{now:%Y%m%d-%H%M%S}"
    while aside.exists():
        aside = aside.with_name(f"{aside.name}-again")
    return aside


def _keep_beside(folder: Path, aside: Path) -> list[Path]:
    """Give database and photos a second name in another folder; return the photos."""
    path, photos = folder / FILE_NAME, _photos(folder)
    if path.is_file():
        _link(path, aside / FILE_NAME)
    if photos:
        (aside / PHOTOS).mkdir()
    for photo in photos:
        _link(photo, aside / PHOTOS / photo.name)
    return photos


def _photos(folder: Path) -> list[Path]:
    return sorted(file for file in (folder / PHOTOS).glob("*") if file.is_file())


def settings_in(ready: Ready) -> bytes | None:
    """Return the settings file that came with a backup, None where none did."""
    file = ready.folder / SETTINGS
    return file.read_bytes() if file.is_file() else None


def _check_database(path: Path, manifest: Manifest) -> None:
    """Raise InputError where a database is damaged, newer, or does more than hold rows."""
    with _readable(), opened_still(path) as db:
        if said := damage_in(path):
            raise InputError(f"The database in it is damaged: {said}.")
        if not db.execute(
            "select 1 from sqlite_master where name = '_sqlite_migrations'"
        ).fetchone():
            raise InputError("The database in it is none of hangroom's.")
        steps = {step.name for step in MIGRATIONS.applied(db)}
        if steps - known_steps():
            raise InputError(_newer(manifest))
        # Ours has neither. One in a foreign file would run with the next row that is written.
        odd = db.execute("select name from sqlite_master where type in ('trigger', 'view')")
        if names := [name for (name,) in odd]:
            raise InputError(
                f"The database in it does more than hold rows ({names[0][:80]!r}), as none of ours "
                "does. Take a file made by `hangroom backup`."
            )


@contextmanager
def _readable() -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as fault:
        raise InputError(f"The database in it cannot be read: {fault}.") from None


def _newer(manifest: Manifest) -> str:
    return (
        f"It was made by a newer hangroom ({manifest.program}). Install that version or a later "
        "one, then restore."
    )


def _of(path: Path) -> Present:
    try:
        with opened_to_look(path) as db:

            def count(table: str) -> int:
                return int(db.execute(f"select count(*) from {table}").fetchone()[0])  # noqa: S608 - below

            return Present(
                batches=count("batch"),
                weigh_ins=count("weigh_in"),
                readings=count("reading"),
                seen_at=last_seen_at(db),
                household=household_of(db),
            )
    except (sqlite3.Error, HangroomError):
        return Present(batches=0, weigh_ins=0, readings=0, seen_at=None, damaged=True)


def _settle(path: Path, aside: Path) -> None:
    """Bring what stands in the log into the database; StoreError where another program has it open.

    Of a damaged one all that lies beside it is copied into `aside` first, for SQLite may throw it
    away on opening; of a sound one nothing is then left to copy.
    """
    if not path.is_file():
        return
    beside = [path.with_name(f"{path.name}{ending}") for ending in BESIDE]
    for file in beside:
        if file.is_file():
            shutil.copy2(file, aside)
    try:
        with closing(sqlite3.connect(path, timeout=0.0)) as db:
            # Leaving WAL mode needs the file for oneself: whoever has it open is noticed here.
            (mode,) = db.execute("pragma journal_mode = delete").fetchone()
    except sqlite3.OperationalError as fault:
        if "locked" not in str(fault):
            return
        mode = "wal"
    except sqlite3.DatabaseError:
        return
    for file in beside:
        (aside / file.name).unlink(missing_ok=True)
    if mode != "delete":
        aside.rmdir()
        raise StoreError(
            f"Another program has {path} open. Close it, then restore; nothing was changed."
        )


def _link(file: Path, second: Path) -> None:
    """Give a file a second name, at no cost; on a disk that knows no such thing, a copy."""
    try:
        os.link(file, second)
    except OSError:
        shutil.copy2(file, second)


def _share(file: Path, owner: os.stat_result, mode: int) -> None:
    """Let the folder's owner and group have a file, as if their own program had made it."""
    if os.geteuid() == 0:
        os.chown(file, owner.st_uid, owner.st_gid)
    # What others own, as the photos' folder, has its mode already.
    with suppress(PermissionError):
        file.chmod(mode)


def _sync(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
