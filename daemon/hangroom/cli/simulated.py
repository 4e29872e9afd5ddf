"""`hangroom daemon --simulated`: the real loop on simulated rooms, past first, then live."""

import json
import sys
from pathlib import Path

from hangroom.cli.running import run_loop
from hangroom.cli.sample import Keeper, hang_loads, sample_rooms, save, weather
from hangroom.cli.simulated_rooms import outside, wired
from hangroom.errors import HangroomError
from hangroom.hardware.clock import SystemClock
from hangroom.hardware.notify import notify
from hangroom.jobs import daily_look, looking_of
from hangroom.product.daily_look import Due, latest_due
from hangroom.settings import Settings
from hangroom.simulation.bell import SimulatedBell
from hangroom.simulation.catching_up import CatchingUpClock
from hangroom.store.batches import batch_ids
from hangroom.store.database import connect, prepare_database

PAST_DAYS = 3
CAUGHT_UP_WITHIN_S = 5.0
OUTSIDE_SEED = 13
ROOMS_FILE = "simulated-rooms.json"


def run_simulated(settings: Settings) -> int:
    """Make the past with the real loop on simulated rooms, then go on live until stopped.

    In a folder where an earlier run ended in order, the rooms go on from where they were.
    """
    path = prepare_database(settings.store.folder)
    saved = settings.store.folder / ROOMS_FILE
    real = SystemClock()
    states = json.loads(saved.read_text(encoding="utf-8")) if saved.exists() else None
    clock = CatchingUpClock(real, behind_s=0.0 if states else PAST_DAYS * 86_400)
    rooms = sample_rooms(settings, clock)
    if states:
        hang_loads(rooms)
        for name, room in rooms.items():
            room.restore(states[name])
    elif _has_batches(path):
        raise HangroomError(
            f"{settings.store.folder} holds a demo that was cut off, so the sticks in it cannot go "
            "on drying. Remove the folder, or take another one with --folder."
        )
    air_outside = outside(settings.outside, clock=clock, ambient=weather(), seed=OUTSIDE_SEED)
    for room in rooms.values():
        clock.follow(room.advance)
    clock.follow(air_outside.advance)
    if not states:
        clock.follow(Keeper(path, settings, rooms, clock).live_until)
    progress = _Progress(path, settings, clock)
    run_loop(
        settings,
        {name: wired(room, settings.room[name], settings.outside) for name, room in rooms.items()},
        clock,
        outside=air_outside.sensors,
        bell=SimulatedBell(clock),
        wirings={},
        wake=real.wake,
        alive=progress.told,
        live=progress.is_caught_up,
    )
    save(rooms, saved)
    return 0


def _has_batches(path: Path) -> bool:
    db = connect(path)
    try:
        return bool(batch_ids(db))
    finally:
        db.close()


class _Progress:
    """Shows how much of the past is made, asks for the daily look in it, then reports ready."""

    def __init__(self, path: Path, settings: Settings, clock: CatchingUpClock) -> None:
        self._path = path
        self._looking = looking_of(settings)
        self._clock = clock
        self._looked: Due | None = None
        self._shown_pct = -1
        self._ready = False

    def is_caught_up(self) -> bool:
        """Whether the simulated rooms live in the present."""
        return self._clock.behind_s() < CAUGHT_UP_WITHIN_S

    def told(self) -> None:
        """Take note of a completed tick."""
        if self._ready:
            notify("WATCHDOG=1")
        elif self.is_caught_up():
            self._ready = True
            _show(100, last=True)
            notify("READY=1")
        else:
            self._look()
            done_pct = int(100 * self._clock.done_ratio())
            if done_pct != self._shown_pct:
                self._shown_pct = done_pct
                _show(done_pct)

    def _look(self) -> None:
        # The scheduler follows the machine's clock; in the made-up past its job is done by hand.
        now = self._clock.now()
        due = latest_due(now, at=self._looking.at, zone=self._looking.zone)
        if due != self._looked:
            daily_look(self._path, self._looking, now=now)
            self._looked = due


def _show(done_pct: int, *, last: bool = False) -> None:
    end = "\n" if last or not sys.stdout.isatty() else "\r"
    if last or sys.stdout.isatty() or done_pct % 10 == 0:
        print(f"Making the last {PAST_DAYS} days: {done_pct:3d} %", end=end, flush=True)
