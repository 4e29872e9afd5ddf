"""The demo's rooms, sticks and keeper. All of it is invented, and marked as a sample in the store.

A pork and venison stick with juniper and mustard seed: one batch in the closet, in two groups
with two finishes, and one that dries slowly in the fridge; besides, a finished one out of a
notebook. An invented keeper hangs them, and weighs the tagged sticks every morning but the last,
which is left for whoever looks at the demo.
"""

import json
from collections.abc import Callable, Iterator
from contextlib import closing
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from random import Random

from hangroom.cli.simulated_rooms import sensors_of
from hangroom.product.daily_look import due_on
from hangroom.sample.batches import (
    BATCHES,
    DIAMETER_MM,
    GREEN_G,
    HUNG_RATIO,
    WATER_FRACTION_HUNG,
    SampleBatch,
    hang_batch,
    weigh_batch,
)
from hangroom.settings import Settings
from hangroom.simulation.ambient import AirSeries, april_weather
from hangroom.simulation.casing import CASING_KG_PER_M2_S_PA
from hangroom.simulation.catching_up import CatchingUpClock
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.load import Sticks, hung_sticks
from hangroom.simulation.spec import LoadSpec, RoomSpec
from hangroom.store.database import connect

CLOSET = RoomSpec(
    volume_m3=1.0, ach_per_h=1.5, fan_m3_per_h=12.0, humidifier_g_per_h=80.0, tank_g=4000.0
)
FRIDGE = RoomSpec(volume_m3=0.25, ach_per_h=0.3, ua_w_per_k=1.6, wall_kj_per_k=12.0, cooling_w=90.0)


def weather() -> AirSeries:
    """Return the air around the demo's rooms: a measured April, brought into a heated building."""
    return april_weather().indoors()


def sample_rooms(settings: Settings, clock: CatchingUpClock) -> dict[str, SimulatedRoom]:
    """Return the demo's closet and fridge, with the relays and sensors of the settings."""
    ambient = weather()
    return {
        name: SimulatedRoom(
            name,
            spec,
            clock=clock,
            ambient=ambient,
            relays=[relay.switches() for relay in settings.room[name].relay.values()],
            sensors=sensors_of(settings.room[name]),
            seed=seed,
            start_temperature_c=start_c,
            start_humidity_pct=start_pct,
        )
        for name, spec, seed, start_c, start_pct in (
            ("closet", CLOSET, 11, 16.0, 74.0),
            ("fridge", FRIDGE, 12, 4.5, 75.0),
        )
    }


def hang_loads(rooms: dict[str, SimulatedRoom]) -> None:
    """Hang every batch's sticks at once, for a demo that goes on from a snapshot."""
    for batch in BATCHES:
        rooms[batch.room].hang(sticks_of(batch))


class Keeper:
    """The invented keeper: does each thing when the clock gets there."""

    def __init__(
        self,
        path: Path,
        settings: Settings,
        rooms: dict[str, SimulatedRoom],
        clock: CatchingUpClock,
    ) -> None:
        self._path = path
        self._zone = settings.zone()
        self._look_times = settings.inspection.times()
        self._rooms = rooms
        self._random = Random(1)
        self._stick_share: dict[str, float] = {}
        now = clock.now() + timedelta(seconds=clock.behind_s())
        self._now_uptime_s = clock.uptime_s() + clock.behind_s()
        self._now = now
        self._todo = sorted(self._duties(), key=lambda duty: duty[0])

    def live_until(self, uptime_s: float) -> None:
        """Do whatever has come due."""
        while self._todo and self._todo[0][0] <= uptime_s:
            _, duty = self._todo.pop(0)
            duty()

    def _duties(self) -> Iterator[tuple[float, Callable[[], None]]]:
        today = self._now.astimezone(self._zone).date()
        for number, batch in enumerate(BATCHES):
            hung_at = self._now - batch.hung_for
            yield self._uptime_s(hung_at), partial(self._hang, number)
            day = hung_at.astimezone(self._zone).date() + timedelta(days=1)
            while day < today:
                due_at = due_on(day, at=self._look_times[0], zone=self._zone)
                looked_at = due_at + timedelta(minutes=20 + number)
                yield self._uptime_s(looked_at), partial(self._weigh, number, looked_at)
                day += timedelta(days=1)

    def _uptime_s(self, moment: datetime) -> float:
        return self._now_uptime_s - (self._now - moment).total_seconds()

    def _hang(self, number: int) -> None:
        batch = BATCHES[number]
        hung_at = self._now - batch.hung_for
        self._rooms[batch.room].hang(sticks_of(batch))
        with closing(connect(self._path)) as db:
            self._stick_share |= hang_batch(db, number, hung_at=hung_at, random=self._random)

    def _weigh(self, number: int, looked_at: datetime) -> None:
        load = self._rooms[BATCHES[number].room].load
        if load is None:
            return
        with closing(connect(self._path)) as db:
            weigh_batch(
                db,
                number,
                loss_ratio=load.loss_ratio,
                shares=self._stick_share,
                looked_at=looked_at,
            )


def save(rooms: dict[str, SimulatedRoom], file: Path) -> None:
    """Keep the state of the rooms, so that a demo in the same folder goes on from it."""
    fresh = file.with_suffix(".new")
    states = {name: room.snapshot() for name, room in rooms.items()}
    fresh.write_text(json.dumps(states), encoding="utf-8")
    fresh.replace(file)


def sticks_of(batch: SampleBatch) -> Sticks:
    """Return a batch's sticks as they are hung."""
    return hung_sticks(
        LoadSpec(
            mass_kg=batch.sticks * GREEN_G * HUNG_RATIO / 1000,
            diameter_mm=DIAMETER_MM,
            water_fraction=WATER_FRACTION_HUNG,
            casing_kg_per_m2_s_pa=CASING_KG_PER_M2_S_PA,
        )
    )
