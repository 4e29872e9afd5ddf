"""What every page reaches for: the settings, the clocks, the live board and the database."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import cast
from zoneinfo import ZoneInfo

from flask import current_app, g
from sqlite_utils import Database

from hangroom.errors import StoreError
from hangroom.ports import Clock
from hangroom.settings import Settings
from hangroom.store.database import FILE_NAME, connect, explained
from hangroom.store.live import LiveBoard, read_board
from hangroom.units import Units
from hangroom_web.words import _

EXTENSION = "hangroom"


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The household's settings and this machine's clocks, fixed for the life of the process.

    `settings_file`: where they were read from, None where from no file.
    """

    settings: Settings
    clock: Clock
    boot_id: str
    settings_file: Path | None = None

    @property
    def zone(self) -> ZoneInfo:
        """The zone that days are counted in."""
        return self.settings.zone()

    @property
    def units(self) -> Units:
        """What the keeper reads and types."""
        return self.settings.units.units()

    def now(self) -> datetime:
        """Wall time, aware, UTC."""
        return self.clock.now()


def site() -> Site:
    """Return the site of the app that serves this request."""
    return cast("Site", current_app.extensions[EXTENSION])


def live_board() -> LiveBoard | None:
    """Return the live board, read once per request; None where there is none."""
    if "board" not in g:
        g.board = read_board(site().settings.live_folder())
    return cast("LiveBoard | None", g.board)


@contextmanager
def records() -> Iterator[Database]:
    """Give this request's connection; StoreError with what to do where there is no database."""
    path = site().settings.store.folder / FILE_NAME
    with explained(path):
        if "records" not in g:
            # Looked for first, because SQLite would make an empty file of a missing one.
            if not path.is_file():
                raise StoreError(
                    _(
                        "There is no database at {path} yet. Records and batches come with the "
                        "first start of the controller: start `hangroom daemon`."
                    ).format(path=path)
                )
            g.records = connect(path)
        yield g.records


def close_records(_fault: BaseException | None = None) -> None:
    """Close this request's connection, if it had one."""
    db = g.pop("records", None)
    if db is not None:
        db.close()
