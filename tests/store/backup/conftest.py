"""A household with photos, and what a folder holds, byte by byte and row by row."""

import shutil
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from hashlib import sha256
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from web.scenario import START, Scene

from hangroom.store.backup.copying import Made, make_backup
from hangroom.store.database import connect
from hangroom.store.record.photos import add_photo

# What each begins with is all that is looked at; the rest is invented.
PHOTOS = (b"\xff\xd8\xff" + b"table with sticks " * 900, b"\x89PNG\r\n\x1a\n" + b"rail" * 50)
SETTINGS = b'[site]\nname = "Hang room"\n'


@pytest.fixture(scope="session")
def household_with_photos(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = Scene.household(tmp_path_factory.mktemp("kept") / "store").folder
    with closing(connect(folder / "hangroom.db")) as db:
        for number, data in enumerate(PHOTOS):
            add_photo(
                db, folder, 1, data, key=f"photo{number}", taken_at=START, by="Ada", now=START
            )
    return folder


@pytest.fixture
def folder(tmp_path: Path, household_with_photos: Path) -> Path:
    """The folder of a household whose services have run, and do not run now."""
    made = Path(shutil.copytree(household_with_photos, tmp_path / "store"))
    for user in ("daemon", "web", "notices", "backup"):
        (made / f".in-use-{user}").touch()
    return made


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    made = tmp_path / "stick"
    made.mkdir()
    return made


@pytest.fixture
def back_up(folder: Path, stick: Path) -> Callable[[], Made]:
    def made() -> Made:
        return make_backup(
            folder, stick, made_at=START, site="Hang room", program="0.1.0", settings=SETTINGS
        )

    return made


def rows(database: Path) -> list[str]:
    """All that a database holds, as SQL, read by Python's own module alone."""
    with closing(sqlite3.connect(database)) as db:
        return sorted(db.iterdump())


def photos(folder: Path) -> dict[str, str]:
    """The checksum of every photo's file by its name."""
    return {
        file.name: sha256(file.read_bytes()).hexdigest() for file in (folder / "photos").iterdir()
    }


def bytes_in(folder: Path) -> dict[str, str]:
    """The checksum of every file below a folder."""
    return {
        str(file.relative_to(folder)): sha256(file.read_bytes()).hexdigest()
        for file in sorted(folder.rglob("*"))
        if file.is_file()
    }


def settled(folder: Path) -> None:
    """Fold the log into the database, so that looking at it changes no byte."""
    with closing(sqlite3.connect(folder / "hangroom.db")) as db:
        db.execute("pragma wal_checkpoint(truncate)")


def at(clock: str) -> datetime:
    return datetime.fromisoformat(clock)
