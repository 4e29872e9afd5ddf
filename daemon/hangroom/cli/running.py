"""Putting the loop together from its parts, real or simulated, and running it."""

import os
import signal
from collections.abc import Callable, Collection, Iterable, Mapping
from contextlib import ExitStack, closing, suppress
from dataclasses import replace
from pathlib import Path
from types import FrameType
from typing import Any

from hangroom import __version__
from hangroom.alarm_desk.banks import KEPT_AS
from hangroom.alarm_desk.bell import BellDesk
from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.alarm_desk.room_watch import plant_kept_as
from hangroom.answers import Answers
from hangroom.control.alarms.service_conditions import DiskSpace
from hangroom.control.outside import OUTSIDE
from hangroom.control.snapshot import kept_as
from hangroom.forecasting import Forecasts, HumidityPlans
from hangroom.hardware.clock import boot_id
from hangroom.hardware.notify import notify
from hangroom.jobs import Jobs, looking_of
from hangroom.loop import Loop
from hangroom.ports import AirSensor, Bell, Clock
from hangroom.settings import Settings
from hangroom.store.alarms import newest_sequence
from hangroom.store.database import connect, explained, prepare_database
from hangroom.store.in_use import in_use
from hangroom.store.journal import Journal
from hangroom.store.live import LiveBoard, write_board
from hangroom.store.memory import kept
from hangroom.store.proofs import Wirings
from hangroom.terms import Command, RoomPlan
from hangroom.wired import WiredRoom


def run_loop(
    settings: Settings,
    rooms: Mapping[str, WiredRoom],
    clock: Clock,
    *,
    wake: Callable[[], None],
    alive: Callable[[], None],
    wirings: Wirings,
    live: Callable[[], bool] = lambda: True,
    outside: Mapping[str, AirSensor] | None = None,
    bell: Bell | None = None,
) -> None:
    """Put the loop together and run it until SIGTERM or SIGINT.

    `wake` ends a wait of the clock. `wirings`: how each room's relays are wired, which stay off
    until they are proved; none where they are simulated. `live` tells whether the
    board is worth showing yet. `outside`: the sensors in the air outside.
    """
    outside = outside or {}
    path = prepare_database(settings.store.folder)
    settings.live_folder().mkdir(parents=True, exist_ok=True)

    def show(board: Callable[[], LiveBoard]) -> None:
        # A board that cannot be written grows old, and the page says so; control goes on.
        if live():
            with suppress(OSError):
                write_board(settings.live_folder(), board())

    with ExitStack() as stack:
        # As long as this lives, no backup is put back under it.
        stack.enter_context(in_use(path.parent, "daemon"))
        journal = Journal(path)
        stack.callback(journal.close)
        journal.start(
            {name: list(room.sensors) for name, room in rooms.items()} | {OUTSIDE: list(outside)},
            boot_id=boot_id(),
            version=__version__,
            now=clock.now(),
        )

        def foreseen(plan: RoomPlan) -> tuple[Command, ...]:
            return loop.foreseen(plan)

        alarms = alarm_desk(path, rooms, clock, journal, bell=_bell_desk(settings, bell))
        answers = Answers(
            path,
            journal=journal,
            boot_id=boot_id(),
            sensors={name: list(room.sensors) for name, room in rooms.items()},
            units=settings.units.units(),
            alarm_acts=alarms.acted,
            wirings=wirings,
            foresee=foreseen,
            snooze_at_most=settings.inspection.snooze_at_most(),
        )
        stack.callback(answers.close)
        plans = answers.kept(
            {name: room.plan for name, room in rooms.items()}, clock.now(), clock.uptime_s()
        )
        forecasts = Forecasts(
            path, scale_sd_g=settings.inspection.scale_sd_g, now=clock.now, live=live
        )
        humidity_plans = HumidityPlans(
            path, scale_sd_g=settings.inspection.scale_sd_g, now=clock.now, live=live
        )

        def forecast() -> None:
            forecasts.look()
            humidity_plans.look()

        jobs = Jobs(
            path,
            looking=looking_of(settings),
            now=clock.now,
            hangs=alarms.hangs,
            forecast=forecast,
        )

        def clock_jumped() -> None:
            jobs.rebuild()
            answers.clock_jumped()

        loop = Loop(
            {name: replace(room, plan=plans[name]) for name, room in rooms.items()},
            clock=clock,
            journal=journal,
            alarms=alarms,
            boot_id=boot_id(),
            version=__version__,
            plans_now=answers.plans_now,
            show=show,
            alive=alive,
            clock_jumped=clock_jumped,
            kept=_kept_rooms(path, rooms),
            outside=outside,
        )

        def stop(_number: int, _frame: FrameType | None) -> None:
            loop.stop()
            wake()

        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGINT, stop)
        jobs.start()
        stack.callback(jobs.stop)
        # Before the jobs: they let what runs finish, and a child may take its time.
        stack.callback(forecasts.stop)
        stack.callback(humidity_plans.stop)
        loop.run()
        notify("STOPPING=1")
        loop.keep_memory()
        journal.flush(now=clock.now(), ended="stopped")


def _kept_rooms(path: Path, rooms: Iterable[str]) -> dict[str, Any]:
    with explained(path), closing(connect(path)) as db:
        return {name: kept(db, name) for name in map(kept_as, rooms)}


def _bell_desk(settings: Settings, bell: Bell | None) -> BellDesk | None:
    if settings.bell is None or bell is None:
        return None
    return BellDesk(bell, least=settings.bell.least)


def alarm_desk(
    path: Path,
    rooms: Collection[str],
    clock: Clock,
    journal: Journal,
    *,
    bell: BellDesk | None = None,
) -> AlarmDesk:
    """Return the desk in the state an earlier program left it in."""
    with explained(path), closing(connect(path)) as db:
        before, sequence = kept(db, KEPT_AS), newest_sequence(db)
        plants = {name: kept(db, plant_kept_as(name)) for name in rooms}
    return AlarmDesk(
        rooms,
        clock=clock,
        journal=journal,
        kept=before,
        plants=plants,
        boot_id=boot_id(),
        sequence=sequence,
        off_since=journal.off_since,
        disk=lambda: _space_on_the_disk_of(path),
        bell=bell,
    )


def _space_on_the_disk_of(path: Path) -> DiskSpace | None:
    try:
        disk = os.statvfs(path.parent)
    except OSError:
        return None
    return DiskSpace(
        free_bytes=disk.f_bavail * disk.f_frsize, size_bytes=disk.f_blocks * disk.f_frsize
    )
