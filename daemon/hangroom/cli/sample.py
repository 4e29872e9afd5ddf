"""The demo's rooms, sticks and keeper. All of it is invented, and marked as a sample in the store.

A pork and venison stick with juniper and mustard seed: one batch in the closet, in two groups
with two finishes, and one that dries slowly in the fridge; besides, a finished one out of a
notebook. An invented keeper hangs them, and weighs the tagged sticks every morning but the last,
which is left for whoever looks at the demo.
"""

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from functools import partial
from pathlib import Path
from random import Random

from hangroom.cli.sample_notebook import enter_notebook
from hangroom.cli.sample_record import (
    ANN,
    BEN,
    COARSE,
    JUNIPER,
    MIXED_BEFORE_H,
    SampleRecord,
    correct_green_weight,
    enter_record,
)
from hangroom.cli.simulated_rooms import sensors_of
from hangroom.product.daily_look import due_on
from hangroom.settings import Settings
from hangroom.simulation.ambient import AirSeries, april_weather
from hangroom.simulation.casing import CASING_KG_PER_M2_S_PA
from hangroom.simulation.catching_up import CatchingUpClock
from hangroom.simulation.house import SimulatedRoom
from hangroom.simulation.load import Sticks, hung_sticks
from hangroom.simulation.spec import LoadSpec, RoomSpec
from hangroom.store.batch_facts import CasingKind
from hangroom.store.batches import NewGroup, NewStick, add_batch
from hangroom.store.database import connect
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in

CLOSET = RoomSpec(
    volume_m3=1.0, ach_per_h=1.5, fan_m3_per_h=12.0, humidifier_g_per_h=80.0, tank_g=4000.0
)
FRIDGE = RoomSpec(volume_m3=0.25, ach_per_h=0.3, ua_w_per_k=1.6, wall_kj_per_k=12.0, cooling_w=90.0)
GREEN_G = 88.0
COOKED_RATIO = 0.9  # of green weight, out of the smoker
HUNG_RATIO = 0.88  # of green weight, chilled and dried off
WATER_FRACTION_HUNG = 0.55
DIAMETER_MM = 19.0
LENGTH_MM = 265.0
SCALE_STEP_G = 0.1
MISREAD_G = 18.0  # so that there is something to correct


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleGroup:
    """One invented group."""

    letter: str
    finish: str
    target_yield_pct: float
    sticks: int


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleBatch:
    """One invented batch: where it hangs, and for how long by now."""

    room: str
    name: str
    hung_for: timedelta
    record: SampleRecord
    groups: tuple[SampleGroup, ...]

    @property
    def sticks(self) -> int:
        """All sticks of all groups."""
        return sum(group.sticks for group in self.groups)


BATCHES = (
    SampleBatch(
        room="fridge",
        name="Pork and venison, coarse",
        hung_for=timedelta(hours=62),
        record=COARSE,
        groups=(SampleGroup(letter="A", finish="supple, slowly", target_yield_pct=78, sticks=16),),
    ),
    SampleBatch(
        room="closet",
        name="Pork and venison, juniper and mustard seed",
        hung_for=timedelta(hours=38),
        record=JUNIPER,
        groups=(
            SampleGroup(letter="A", finish="supple", target_yield_pct=76, sticks=14),
            SampleGroup(letter="B", finish="dry, snaps", target_yield_pct=62, sticks=14),
        ),
    ),
)
TAGGED_PER_GROUP = 3


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
        self._inspection_at = time.fromisoformat(settings.inspection.at)
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
                due_at = due_on(day, at=self._inspection_at, zone=self._zone)
                looked_at = due_at + timedelta(minutes=20 + number)
                yield self._uptime_s(looked_at), partial(self._weigh, number, looked_at)
                day += timedelta(days=1)

    def _uptime_s(self, moment: datetime) -> float:
        return self._now_uptime_s - (self._now - moment).total_seconds()

    def _hang(self, number: int) -> None:
        batch = BATCHES[number]
        hung_at = self._now - batch.hung_for
        self._rooms[batch.room].hang(sticks_of(batch))
        groups = []
        for group in batch.groups:
            tagged = []
            for place in range(1, TAGGED_PER_GROUP + 1):
                tag = f"{number + 1}{group.letter}{place}"
                self._stick_share[tag] = self._random.gauss(1.0, 0.06)
                green_g = _scale_shows_g(self._random.gauss(GREEN_G, 2.5))
                tagged.append(
                    NewStick(
                        tag=tag,
                        green_weight_g=green_g,
                        cooked_weight_g=_scale_shows_g(green_g * COOKED_RATIO),
                        hang_weight_g=_scale_shows_g(green_g * HUNG_RATIO),
                        hang_diameter_mm=round(self._random.gauss(DIAMETER_MM, 0.3), 1),
                        length_mm=round(self._random.gauss(LENGTH_MM, 6.0)),
                    )
                )
            groups.append(
                NewGroup(
                    letter=group.letter,
                    finish=group.finish,
                    target_yield_pct=group.target_yield_pct,
                    sticks=group.sticks,
                    tagged=tagged,
                    room=batch.room,
                    hung_at=hung_at,
                )
            )
        db = connect(self._path)
        key = f"sample batch {number + 1}"
        green_g = round(batch.record.mixed_g)
        add_batch(
            db,
            name=batch.name,
            started_at=hung_at - timedelta(hours=MIXED_BEFORE_H),
            groups=groups,
            note="Invented for the demo.",
            sample=True,
            green_weight_g=green_g - MISREAD_G,
            casing=CasingKind.COLLAGEN,
            casing_diameter_mm=DIAMETER_MM,
            key=key,
            by=ANN,
            now=hung_at,
        )
        correct_green_weight(db, key, green_g, at=hung_at)
        enter_record(db, number + 1, batch.record, hung_at=hung_at)
        if batch is BATCHES[-1]:
            enter_notebook(db, now=hung_at)
        db.close()

    def _weigh(self, number: int, looked_at: datetime) -> None:
        batch = BATCHES[number]
        load = self._rooms[batch.room].load
        if load is None:
            return
        db = connect(self._path)
        rows = db.execute(
            "select tag, hang_weight_g, hang_diameter_mm from stick"
            " join stick_group on stick_group.id = group_id join batch on batch.id = batch_id"
            " where number = ?",
            (number + 1,),
        ).fetchall()
        for tag, hang_g, hang_mm in rows:
            lost_ratio = load.loss_ratio * self._stick_share[tag]
            add_weigh_in(
                db,
                NewWeighIn(
                    key=f"sample {tag} {looked_at.date()}",
                    tag=tag,
                    taken_at=looked_at,
                    weight_g=_scale_shows_g(hang_g * (1 - lost_ratio)),
                    squeeze=min(5, 1 + round(lost_ratio * 12)),
                    wrinkle_mm=round(lost_ratio * 8) / 2,
                    surface=frozenset(),
                    entered_by=BEN,
                    # Lost water is lost volume; the length hardly changes.
                    diameter_mm=round(hang_mm * (1 - 1.06 * lost_ratio) ** 0.5, 1),
                ),
            )
        db.close()


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


def _scale_shows_g(weight_g: float) -> float:
    return round(round(weight_g / SCALE_STEP_G) * SCALE_STEP_G, 1)
