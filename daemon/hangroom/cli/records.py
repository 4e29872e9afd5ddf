"""The database as a command opens it: brought to this version's shape first."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlite_utils import Database

from hangroom.errors import StoreError
from hangroom.store.database import FILE_NAME, connect, explained, prepare_database


@contextmanager
def records(folder: Path, *, make: bool) -> Iterator[Database]:
    """Give a connection to the database of a folder; `make`: where there is none, make one.

    Raises StoreError where there is none, or where it cannot be used.
    """
    path = folder / FILE_NAME
    if not make and not path.is_file():
        raise StoreError(
            f"There is no database in {folder}. Check [store] folder in the settings; records come "
            "with the first start of the daemon."
        )
    prepare_database(folder)
    with explained(path):
        db = connect(path)
        try:
            yield db
        finally:
            db.close()
