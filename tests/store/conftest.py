from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from hangroom.store.database import connect, prepare_database


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A database with every migration done."""
    return prepare_database(tmp_path)


@pytest.fixture
def db(path: Path) -> Iterator[Database]:
    """A connection to it."""
    opened = connect(path)
    yield opened
    opened.close()
