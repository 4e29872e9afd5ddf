"""Making a backup: copied beside all that runs, packed, read back whole, and only then named."""

import os
import shutil
import sqlite3
import zipfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import IO

from sqlite_utils import Database

from hangroom.errors import HangroomError, StoreError
from hangroom.store.backup.checking import check_whole_file
from hangroom.store.backup.manifest import DATABASE, MANIFEST, SETTINGS, Manifest, Member, written
from hangroom.store.backup.retention import name_of
from hangroom.store.database import FILE_NAME, explained
from hangroom.store.migrations import MIGRATIONS
from hangroom.store.record.photos import FOLDER as PHOTOS
from hangroom.store.record.photos import photo_file, photo_names

# Some 2 MB at a time; between two steps the caller may rest, so that a small card stays answerable.
PAGES_A_STEP = 512
CHUNK_BYTES = 1 << 20
# What is left free beside the backup, bytes: a disk filled to the brim helps nobody.
SPARE_BYTES = 20_000_000

# For nobody but who made it: the whole household is in it.
PRIVATE, PRIVATE_FOLDER = 0o600, 0o700


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A backup that was made and read back: its file, its size in bytes, what it says of itself."""

    file: Path
    size: int
    manifest: Manifest


def make_backup(
    folder: Path,
    to: Path,
    *,
    made_at: datetime,
    site: str,
    program: str,
    settings: bytes | None,
    rest: Callable[[], None] = lambda: None,
    household: str | None = None,
) -> Made:
    """Make a backup of the store's `folder` in the folder `to`; StoreError where it cannot be.

    Whatever stops it, no file bears the final name that is not whole. `made_at` in the site's zone;
    `settings` the settings file as it stands; `rest` is called between two steps of copying;
    `household`: whose backups the folder is for, where that is known.
    """
    source, name = folder / FILE_NAME, name_of(made_at)
    if not source.is_file():
        raise StoreError(
            f"There is no database in {folder}, so there is nothing to keep. Check [store] folder."
        )
    if not to.is_dir():
        raise StoreError(
            f"{to} is no folder that can be seen. Is the stick or share mounted? Nothing was made."
        )
    if (to / name).exists():
        raise StoreError(f"There is a {name} in {to} already. Wait a second, then try again.")
    for left in to.glob(".hangroom-*.part"):
        shutil.rmtree(left, ignore_errors=True)  # of one that was cut short: a kill, a power cut
    part = to / f".{name}.part"
    try:
        check_space(to, needs=_needed_bytes(folder, source))
        part.mkdir(PRIVATE_FOLDER)
        copy, packed = part / DATABASE, part / "packed"
        with explained(source):
            copy_database(source, copy, rest=rest)
        with explained(copy):
            told = _told(copy, made_at=made_at, site=site, program=program)
        if household is not None and told.household != household:
            raise StoreError(
                "Another hangroom keeps its backups there; of two in one folder, one would remove "
                "the other's. Take a folder of its own."
            )
        manifest = _pack(packed, told, copy, folder, settings)
        check_whole_file(packed)
        size = packed.stat().st_size
        packed.replace(to / name)
        _sync_folder(to)
    except OSError as fault:
        raise StoreError(
            f"The backup in {to} was not made: {fault.strerror}. Look whether the stick or share "
            "is still there, has room, and may be written by this user."
        ) from fault
    except HangroomError as fault:
        raise StoreError(f"The backup in {to} was not made. {fault}") from fault
    finally:
        shutil.rmtree(part, ignore_errors=True)
    return Made(file=to / name, size=size, manifest=manifest)


def check_space(folder: Path, *, needs: int) -> None:
    """Raise StoreError, with the figures, where a disk has less room than `needs` bytes and some.

    OSError where that cannot be known.
    """
    disk = os.statvfs(folder)
    free = disk.f_bavail * disk.f_frsize
    if free < needs + SPARE_BYTES:
        raise StoreError(
            f"It may need {needs / 1e6:.0f} MB and leave {SPARE_BYTES / 1e6:.0f} MB free, and there"
            f" are {free / 1e6:.0f} MB. Make room in {folder}, or take a larger one."
        )


def copy_database(source: Path, copy: Path, *, rest: Callable[[], None] = lambda: None) -> None:
    """Copy a database at one moment of it, while others read and write it.

    One snapshot is held open: in WAL mode it keeps no writer waiting and none starts it anew; only
    the log grows by what is written meanwhile.
    """
    os.close(os.open(copy, os.O_WRONLY | os.O_CREAT | os.O_EXCL, PRIVATE))
    with (
        closing(sqlite3.connect(source, timeout=5.0, isolation_level=None)) as live,
        closing(sqlite3.connect(copy)) as into,
    ):
        live.execute("begin")
        live.execute("select count(*) from sqlite_master").fetchone()
        live.backup(into, pages=PAGES_A_STEP, progress=lambda *_: rest())
    if said := damage_in(copy):
        raise StoreError(
            f"The database is damaged ({said}), and so would be its copy. Keep the backups there "
            "are, and restore the newest."
        )


def damage_in(path: Path) -> str:
    """Return what SQLite finds wrong with a database that nobody else has open, '' for nothing.

    Opened to write: of a file that it may only read, SQLite 3.40 tries no CHECK constraint (seen).
    """
    with closing(sqlite3.connect(path)) as db:
        found = [str(row[0]) for row in db.execute("pragma quick_check(3)")]
    return "" if found == ["ok"] else "; ".join(found)[:300]


@contextmanager
def opened_still(path: Path) -> Iterator[Database]:
    """Open a database file that nobody writes, leaving nothing beside it."""
    with closing(sqlite3.connect(f"{path.as_uri()}?immutable=1", uri=True)) as opened:
        yield Database(opened)


@contextmanager
def opened_to_look(path: Path) -> Iterator[Database]:
    """Open the database in use, to read: with its log where it has one, else leaving none."""
    log = path.with_name(f"{path.name}-wal")
    how = "mode=ro" if log.is_file() and log.stat().st_size else "immutable=1"
    with closing(sqlite3.connect(f"{path.as_uri()}?{how}", uri=True, timeout=5.0)) as opened:
        yield Database(opened)


def household_of(db: Database) -> str:
    """Return what names this household's database among all others; '' where it is too old."""
    if not _has(db, "calendar_identity"):
        return ""
    return str(db.execute("select domain from calendar_identity").fetchone()[0])


def _has(db: Database, table: str) -> bool:
    return bool(db.execute("select 1 from sqlite_master where name = ?", (table,)).fetchone())


def _needed_bytes(folder: Path, source: Path) -> int:
    """Return the most that copy and packed file can take together."""
    log = source.with_name(f"{FILE_NAME}-wal")
    database = source.stat().st_size + (log.stat().st_size if log.is_file() else 0)
    photos = folder / PHOTOS
    return 2 * database + sum(file.stat().st_size for file in photos.glob("*") if file.is_file())


def _told(copy: Path, *, made_at: datetime, site: str, program: str) -> Manifest:
    with opened_still(copy) as db:
        # A count walks through the table, half a second for a year of readings; once a night.
        rows = {
            table: int(db.execute(f'select count(*) from "{table}"').fetchone()[0])  # noqa: S608 - its own tables
            for (table,) in db.execute(
                "select name from sqlite_master where type = 'table'"
                " and name not like 'sqlite!_%' escape '!' order by name"
            ).fetchall()
        }
        return Manifest(
            program=program,
            steps=tuple(sorted(step.name for step in MIGRATIONS.applied(db))),
            made_at=made_at,
            site=site,
            household=household_of(db),
            rows=rows,
            members=(),
        )


def _pack(
    packed: Path, told: Manifest, copy: Path, folder: Path, settings: bytes | None
) -> Manifest:
    with explained(copy), opened_still(copy) as db:
        names = photo_names(db) if _has(db, "photo") else frozenset()
    photos = [photo_file(folder, name) for name in sorted(names)]
    there = [photo for photo in photos if photo.is_file()]
    descriptor = os.open(packed, os.O_RDWR | os.O_CREAT | os.O_EXCL, PRIVATE)
    with os.fdopen(descriptor, "w+b") as out:
        with zipfile.ZipFile(out, "w") as pack:
            members = [_put_file(pack, DATABASE, copy, zipfile.ZIP_DEFLATED, told.made_at)]
            copy.unlink()
            if settings is not None:
                members.append(_put(pack, SETTINGS, settings, told.made_at))
            # A photo is packed already: to do it again costs minutes and gains nothing.
            members += [
                _put_file(pack, f"{PHOTOS}/{photo.name}", photo, zipfile.ZIP_STORED, told.made_at)
                for photo in there
            ]
            manifest = replace(
                told, members=tuple(members), lacking=_lacking(photos, there, members)
            )
            _put(pack, MANIFEST, written(manifest), told.made_at)
        out.flush()
        os.fsync(out.fileno())
        # What is read back shall come from the disk and not from memory.
        os.posix_fadvise(out.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    return manifest


def _lacking(
    photos: Sequence[Path], there: Sequence[Path], members: Sequence[Member]
) -> tuple[str, ...]:
    """Return the photos that are not there, or not what their name says."""
    sums = {member.sha256 for member in members}
    return tuple(p.name for p in photos if p not in there or p.stem not in sums)


def _put_file(
    pack: zipfile.ZipFile, name: str, file: Path, method: int, made_at: datetime
) -> Member:
    with file.open("rb") as source:
        size = os.fstat(source.fileno()).st_size
        return _put_stream(pack, _info(name, size, method, made_at), source)


def _put(pack: zipfile.ZipFile, name: str, data: bytes, made_at: datetime) -> Member:
    pack.writestr(_info(name, len(data), zipfile.ZIP_DEFLATED, made_at), data)
    return Member(name=name, size=len(data), sha256=sha256(data).hexdigest())


def _put_stream(pack: zipfile.ZipFile, info: zipfile.ZipInfo, source: IO[bytes]) -> Member:
    digest, size = sha256(), 0
    with pack.open(info, "w") as out:
        while chunk := source.read(CHUNK_BYTES):
            digest.update(chunk)
            size += len(chunk)
            out.write(chunk)
    return Member(name=info.filename, size=size, sha256=digest.hexdigest())


def _info(name: str, size: int, method: int, made_at: datetime) -> zipfile.ZipInfo:
    # The form knows no year before 1980, and a Pi without a clock may live in 1970.
    at = made_at.timetuple()[:6] if made_at.year >= 1980 else (1980, 1, 1, 0, 0, 0)  # noqa: PLR2004
    info = zipfile.ZipInfo(name, at)
    info.compress_type = method
    info.external_attr = (0o100000 | PRIVATE) << 16  # a plain file, for its owner alone
    info.file_size = size
    return info


def _sync_folder(folder: Path) -> None:
    # A share may not know how; the file itself is on the disk by then.
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
