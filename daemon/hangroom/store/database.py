"""Opening the one SQLite file that daemon and page share."""

import errno
import fcntl
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlite_utils import Database

from hangroom.errors import StoreError
from hangroom.store.migrations import MIGRATIONS

FILE_NAME = "hangroom.db"


def prepare_database(folder: Path) -> Path:
    """Create or migrate the database in `folder` and return its path; StoreError if it cannot.

    Done once at the start of a process. Whichever process comes first does the steps, the other
    waits for it. A database from a newer program is left untouched and refused.
    """
    path = folder / FILE_NAME
    with explained(path):
        folder.mkdir(parents=True, exist_ok=True)
        # SQLite waits for a lock that another process holds, but not while it goes over to WAL.
        turn = os.open(folder, os.O_RDONLY)
        db = None
        try:
            fcntl.flock(turn, fcntl.LOCK_EX)
            db = connect(path)
            db.execute("begin immediate")
            strangers = {m.name for m in MIGRATIONS.applied(db)} - known_steps()
            if strangers:
                db.rollback()
                raise StoreError(
                    f"{path} was written by a newer hangroom (it has {', '.join(sorted(strangers))}"
                    "). Nothing was changed. Install that version again, or restore a backup made "
                    "by this one."
                )
            MIGRATIONS.apply(db)
            db.commit()
        finally:
            if db is not None:
                db.close()
            os.close(turn)
    return path


def connect(path: Path) -> Database:
    """Return a connection for the calling thread; every thread needs its own."""
    db = Database(sqlite3.connect(path, timeout=5.0))
    # WAL lets the page read while the daemon writes. NORMAL: consistent after a power cut, the
    # last seconds may be lost; what the keeper typed is committed with `durably` instead.
    db.execute("pragma journal_mode = wal")
    db.execute("pragma synchronous = normal")
    db.execute("pragma foreign_keys = on")
    return db


@contextmanager
def durably(db: Database) -> Iterator[None]:
    """Run one transaction that is on the disk, not only in its cache, when the block ends."""
    db.execute("pragma synchronous = full")
    try:
        with db.atomic():
            yield
    finally:
        db.execute("pragma synchronous = normal")


@contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what SQLite and the file system say into a StoreError with what to do."""
    try:
        yield
    except (sqlite3.Error, OSError) as fault:
        raise StoreError(f"The database {path} cannot be used: {_remedy(fault)}") from fault


def _remedy(fault: sqlite3.Error | OSError) -> str:
    said = str(fault)
    if "disk is full" in said or (isinstance(fault, OSError) and fault.errno == errno.ENOSPC):
        return "the disk is full. Free some space, then try again."
    if isinstance(fault, FileExistsError | NotADirectoryError):
        return (
            "a file stands where its folder should be. "
            "Move that file, or set another folder in [store]."
        )
    if isinstance(fault, OSError) or "readonly" in said or "unable to open" in said:
        return (
            "the folder is missing or may not be written by this user. Give the user that runs "
            "hangroom write access to it, or set another folder in [store]."
        )
    if "locked" in said:
        return "another program holds it. Close that program, then try again."
    if "malformed" in said or "not a database" in said:
        return "the file is damaged. Move it aside and restore a backup."
    return f"{said}. Check the disk it lies on; if that is sound, restore a backup."


def known_steps() -> set[str]:
    """Return the names of all steps this program has; the library keeps no public list of them."""
    empty = Database(memory=True)
    try:
        return {step.name for step in MIGRATIONS.pending(empty)}
    finally:
        empty.close()
