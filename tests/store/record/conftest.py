"""The record's tests share one full batch; its file lies beside, for the commands' tests too."""

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from store.record.full_batch import FullBatch

from hangroom.store.database import FILE_NAME, connect, prepare_database


@pytest.fixture(scope="session")
def entered(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Enter the batch once."""
    folder = tmp_path_factory.mktemp("full")
    db = connect(prepare_database(folder))
    FullBatch(db=db, folder=folder).enter()
    db.close()
    return folder


@pytest.fixture
def full(tmp_path: Path, entered: Path) -> Iterator[FullBatch]:
    """A copy of a database with everything in it that a record can hold."""
    folder = Path(shutil.copytree(entered, tmp_path / "full"))
    db = connect(folder / FILE_NAME)
    yield FullBatch(db=db, folder=folder)
    db.close()
