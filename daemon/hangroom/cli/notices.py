"""`hangroom notices`: tells what happens to who is not looking; a process of its own, no pins."""

import argparse
import logging
import signal
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from threading import Thread
from types import FrameType
from typing import TYPE_CHECKING

from hangroom.errors import StoreError
from hangroom.hardware.clock import SystemClock, boot_id
from hangroom.notices.desk import LOOK_EVERY_S, Carries, Desk
from hangroom.notices.facts import Site
from hangroom.notices.gathering import Gathering
from hangroom.notices.sending import Carrier
from hangroom.notices.turns import Rules
from hangroom.notices.wording import House
from hangroom.ports import Clock
from hangroom.product.notice import Stamp
from hangroom.settings import Settings, read_settings
from hangroom.store.database import connect, explained, prepare_database
from hangroom.store.in_use import alone

if TYPE_CHECKING:
    # At work it is loaded by `hangroom.notices`, which sees to it that numpy is not.
    from sqlite_utils import Database

LOG = logging.getLogger(__name__)


def run(given: argparse.Namespace) -> int:
    """Tell until told to stop."""
    logging.basicConfig(level=logging.INFO, format="%(message)s")
    settings = read_settings(given.settings)
    path = prepare_database(settings.store.folder)
    clock, carrier, this_boot = SystemClock(), Carrier(), boot_id()
    stopping = False

    def stop(_number: int, _frame: FrameType | None) -> None:
        nonlocal stopping
        stopping = True
        clock.wake()
        # In a thread: what runs here may hold the lock that closing takes.
        Thread(target=carrier.close, daemon=True).start()

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    twice = "this one sends nothing, as two would send everything twice"
    with alone(path.parent, doing=twice, users=("notices",)), closing(connect(path)) as db:
        desk = desk_for(settings, db, carrier)
        tell(desk, clock, boot_id=this_boot, path=path, stopping=lambda: stopping)
    return 0


def tell(
    desk: Desk, clock: Clock, *, boot_id: str, path: Path, stopping: Callable[[], bool]
) -> None:
    """Let the desk look again and again until told to stop."""
    while not stopping():
        try:
            with explained(path):
                desk.look(Stamp(boot_id=boot_id, uptime_s=clock.uptime_s(), at=clock.now()))
        except StoreError as fault:
            # A full disk may be freed: what cannot be kept now is looked at again then.
            LOG.warning("%s", fault)
        clock.wait_until(clock.uptime_s() + LOOK_EVERY_S)


def desk_for(settings: Settings, db: "Database", carrier: Carries) -> Desk:
    """Return the desk that these settings ask for."""
    wanted = settings.notices
    quiet = wanted.quiet_hours()
    return Desk(
        db,
        Gathering(
            db,
            Site(
                room_titles={name: room.title for name, room in settings.room.items()},
                zone=settings.zone(),
                units=settings.units.units(),
            ),
            look_at=settings.inspection.times(),
            folder=settings.store.folder,
        ),
        carrier,
        house=house_of(settings),
        rules=Rules(
            quiet_from=quiet[0] if quiet else None,
            quiet_until=quiet[1] if quiet else None,
            most_per_hour=wanted.most_per_hour,
        ),
        live_folder=settings.live_folder(),
        channels_file=wanted.channels_file,
        alive=wanted.alive_due(),
        ping_every_s=wanted.ping_every_min * 60.0,
    )


def house_of(settings: Settings) -> House:
    """Return what messages are told by."""
    return House(
        name=settings.site.name, zone=settings.zone(), page=settings.notices.page_address or ""
    )
