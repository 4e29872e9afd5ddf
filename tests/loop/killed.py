"""A daemon on a database of its own that is killed at the end, for what it knows after a restart."""

from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path

from loop.fakes import START, House

from hangroom.cli.running import alarm_desk
from hangroom.store.journal import Journal


@contextmanager
def program(path: Path, *, start: datetime = START) -> Iterator[House]:
    """Run a daemon on its database; at the end it is killed: nothing is written any more."""
    journal = Journal(path)
    journal.start({"closet": ["rail"]}, boot_id="boot", version="0.0.1", now=start)
    with closing(journal):
        yield House(
            journal=journal,
            alarms=lambda clock: alarm_desk(path, ["closet"], clock, journal),
            start=start,
        )
