"""`hangroom daemon`: the loop, with real parts or simulated ones."""

import argparse
import logging

from hangroom.cli.real_rooms import real_bell, real_outside, real_rooms
from hangroom.cli.running import run_loop
from hangroom.hardware.clock import SystemClock
from hangroom.hardware.notify import notify
from hangroom.settings import read_settings


def run(given: argparse.Namespace) -> int:
    """Run the rooms until told to stop."""
    logging.basicConfig(level=logging.INFO, format="%(message)s")
    # A simulated past is made at full speed, so that jobs are late there and it says nothing.
    told = logging.ERROR if given.simulated else logging.WARNING
    logging.getLogger("apscheduler").setLevel(told)
    settings = read_settings(given.settings)
    if given.simulated:
        # Imported here: a real daemon carries no simulation in its memory.
        from hangroom.cli.simulated import run_simulated  # noqa: PLC0415

        return run_simulated(settings)
    clock = SystemClock()
    with (
        real_rooms(settings, clock) as rooms,
        real_outside(settings, clock) as outside,
        real_bell(settings, clock) as bell,
    ):
        run_loop(
            settings,
            rooms,
            clock,
            wake=clock.wake,
            alive=_Watchdog().fed,
            wirings={name: room.wirings() for name, room in settings.room.items()},
            outside=outside,
            bell=bell,
        )
    return 0


class _Watchdog:
    """Tells the service manager that the loop is ready after its first whole tick, then alive."""

    def __init__(self) -> None:
        self._message = "READY=1"

    def fed(self) -> None:
        notify(self._message)
        self._message = "WATCHDOG=1"
