"""A whole batch, from meat to tasting, entered through the store's functions. All of it invented.

A pork and venison stick with juniper and mustard seed: cured, casings dried, smoked in steps,
finished, chilled in an ice bath, hung in two groups; one pulled and tasted, one moved and left.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from hangroom.product.curing import Ingoing, Share
from hangroom.product.recipe import Erythorbate, curing_sums
from hangroom.store.batch_facts import CasingKind, GroupName, NewGroup, NewStick, SurfaceFinding
from hangroom.store.batches import add_batch, batch_ids
from hangroom.store.hanging import hang_group, move_group, pull_group
from hangroom.store.moments import to_ms
from hangroom.store.record.edits import Kept, correct, strike_out
from hangroom.store.record.entries import Entry, add_entry
from hangroom.store.record.finish import finish_profile
from hangroom.store.record.looks import Look, Measurement
from hangroom.store.record.photos import add_photo
from hangroom.store.record.recipe import LineKind, RecipeLine, add_recipe_lines, as_recipe
from hangroom.store.record.series import (
    Origin,
    Series,
    SeriesKind,
    TemperaturePoint,
    add_points,
    add_series,
)
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.sums import FrozenSums, check_sums
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in

# In the past for every machine that runs the tests: commands look at its clock.
STARTED = datetime(2024, 11, 1, 14, tzinfo=UTC)
HUNG = STARTED + timedelta(hours=9)
NOW = STARTED + timedelta(days=6)
ANN, BEN = "Ann (invented)", "Ben (invented)"

# The smallest file that PNG allows is of no matter here; the first bytes are what is looked at.
PNG = b"\x89PNG\r\n\x1a\n" + b"invented"

GROUPS = tuple(
    NewGroup(
        letter=letter,
        finish=finish,
        target_yield_pct=target_pct,
        sticks=14,
        tagged=tuple(
            NewStick(tag=f"1{letter}{place}", green_weight_g=88.1 + place, hang_diameter_mm=18.9)
            for place in (1, 2)
        ),
    )
    for letter, finish, target_pct in (("A", "supple", 76.0), ("B", "dry, snaps", 62.0))
)


def after(hours: float) -> datetime:
    return STARTED + timedelta(hours=hours)


def line(place: int, kind: LineKind, name: str, weight_g: float, **more: object) -> RecipeLine:
    return RecipeLine(
        key=f"line{place}",
        entered_at=STARTED,
        entered_by=ANN,
        place=place,
        kind=kind,
        name=name,
        weight_g=weight_g,
        **more,  # type: ignore[arg-type]  # whichever fields the kind needs
    )


LINES = (
    line(0, LineKind.MEAT, "Pork, ground", 1500.0, ndb="10219"),
    line(
        *(1, LineKind.MEAT, "Venison of our own", 1000.0),
        water_pct=73.1,
        protein_pct=22.7,
        fat_pct=3.0,
        sodium_mg_per_100g=60.0,
    ),
    line(2, LineKind.SALT, "Salt", 37.5),
    line(3, LineKind.CURING_SALT, "Cure #1", 6.2, nitrite_pct=6.25),
    line(4, LineKind.WATER, "Ice water", 75.0),
    line(5, LineKind.SUGAR, "Dextrose", 7.5),
    line(6, LineKind.SPICE, "Juniper and mustard seed", 25.3),
    line(7, LineKind.ACIDULANT, "Encapsulated citric acid", 0.0),
    line(8, LineKind.ERYTHORBATE, "Erythorbate", 1.3, erythorbate=Erythorbate.SODIUM),
)


STEPS: tuple[tuple[str, StepKind, float, float, dict[str, Any]], ...] = (
    ("dry", StepKind.CASING_DRY, 0.5, 1.5, {"room": "closet", "humidity_pct": 60.0}),
    ("smoke1", StepKind.SMOKE, 1.5, 2.5, {"set_temperature_c": 54.4, "wet_bulb_c": 38.0}),
    ("smoke2", StepKind.SMOKE, 2.5, 3.5, {"set_temperature_c": 60.0}),
    ("cook", StepKind.COOK, 3.5, 6.0, {"set_temperature_c": 65.6, "humidity_pct": 55.0}),
    ("finish", StepKind.FINISH, 6.0, 6.5, {"set_temperature_c": 82.2}),
    ("chill", StepKind.CHILL, 6.5, 7.0, {"group": "A", "note": "ice bath"}),
)


def steps() -> Iterator[Step]:
    for key, kind, from_h, to_h, more in STEPS:
        yield Step(
            key=key,
            entered_at=after(8),
            entered_by=ANN,
            kind=kind,
            from_at=after(from_h),
            to_at=after(to_h),
            **more,
        )


def points(from_h: float, *temperatures_c: float) -> tuple[TemperaturePoint, ...]:
    """Readings ten minutes apart."""
    return tuple(
        TemperaturePoint(at=after(from_h) + timedelta(minutes=10 * number), temperature_c=t_c)
        for number, t_c in enumerate(temperatures_c)
    )


COOK = Series(
    key="series cook",
    entered_at=after(8),
    entered_by=ANN,
    kind=SeriesKind.COOK,
    probe="thickest stick, middle of the upper rail",
    origin=Origin.TYPED,
    points=points(5.5, 61.2, 64.9, 67.3, 68.4),
)
CHILL = Series(
    key="series chill",
    entered_at=after(8),
    entered_by=BEN,
    kind=SeriesKind.CHILL,
    probe="same stick",
    origin=Origin.CSV,
    group="A",
    points=points(6.5, 68.4, 31.0, 12.5, 3.9),
)


def weigh_in(tag: str, day: int, weight_g: float, **more: object) -> NewWeighIn:
    taken_at = HUNG + timedelta(days=day)
    return NewWeighIn(
        key=f"weigh {tag} {day}",
        tag=tag,
        taken_at=taken_at,
        weight_g=weight_g,
        entered_at=taken_at,
        entered_by=BEN,
        **more,  # type: ignore[arg-type]  # whichever were noted
    )


WEIGH_INS = (
    weigh_in("1A1", 1, 71.4, squeeze=2, wrinkle_mm=0.5, surface=frozenset(), note="juniper"),
    weigh_in("1A2", 1, 72.6, squeeze=3, diameter_mm=18.1),
    weigh_in("1B1", 1, 71.0, surface=frozenset({SurfaceFinding.MOULD, SurfaceFinding.DRIP})),
    weigh_in("1A1", 2, 68.30000000000001, squeeze=3),
    weigh_in("1B1", 3, 61.5, squeeze=4),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FullBatch:
    """Enters the batch; entering it again is meant to change nothing."""

    db: Database
    folder: Path

    def enter(self) -> int:
        """Enter everything in the order it happened and return the batch's number."""
        db = self.db
        number = add_batch(
            db,
            name="Pork and venison, juniper and mustard seed",
            started_at=STARTED,
            groups=GROUPS,
            note="Invented.",
            sample=True,
            green_weight_g=2630.0,
            casing=CasingKind.COLLAGEN,
            casing_diameter_mm=19.0,
            key="batch 1",
            by=ANN,
            now=STARTED,
        )
        add_recipe_lines(db, number, LINES)
        self._sums(number)
        for step in steps():
            add_entry(db, number, step)
        add_series(db, number, COOK)
        add_points(db, COOK.key, points(6.25, 68.9), now=NOW)
        add_series(db, number, CHILL)
        self._hang()
        for entry in WEIGH_INS:
            add_weigh_in(db, entry)
        for found in self.found():
            add_entry(db, number, found)
        add_photo(
            *(db, self.folder, number, PNG),
            key="photo",
            taken_at=HUNG,
            by=BEN,
            now=NOW,
            caption="as hung",
            group="A",
            of_key=WEIGH_INS[0].key,
        )
        self._pull(number)
        self._correct()
        return number

    def _sums(self, number: int) -> None:
        recipe = as_recipe(LINES)
        assert recipe is not None
        worked = curing_sums(recipe)
        sums = (worked.nitrite, worked.salt, worked.erythorbate)
        frozen = FrozenSums(
            key="sums",
            entered_at=STARTED,
            entered_by=ANN,
            sums=tuple(one for one in sums if isinstance(one, Ingoing | Share)),
        )
        add_entry(self.db, number, frozen)
        check_sums(self.db, frozen.key, by=BEN, now=after(0.2))

    def _hang(self) -> None:
        for number, letter in ((1, "A"), (2, "B")):
            hang_group(
                self.db, number, room="closet", at=HUNG, key=f"hang {letter}", by=ANN, now=NOW
            )
        move_group(
            *(self.db, 2),
            room="fridge",
            at=HUNG + timedelta(days=2),
            key="move B",
            by=BEN,
            now=NOW,
        )

    def found(self) -> Iterator[Entry]:
        """The looks and measurements."""
        yield Measurement(
            key="aw",
            entered_at=NOW,
            entered_by=ANN,
            group="B",
            taken_at=HUNG + timedelta(days=3),
            aw=0.912,
            instrument="chilled mirror, borrowed",
        )
        yield Look(
            key="look",
            entered_at=NOW,
            entered_by=BEN,
            group="B",
            taken_at=HUNG + timedelta(days=1, hours=8),
            surface=frozenset({SurfaceFinding.MOULD}),
            note="a white speck",
        )

    def readings(self) -> None:
        """The closet's air while the sticks hang there, as the daemon notes it."""
        db = self.db
        with db.atomic():
            db.execute("insert or ignore into room (id, name) values (1, 'closet')")
            db.execute("insert or ignore into sensor (id, room_id, name) values (1, 1, 'rail')")
            for minute in range(0, 48 * 60, 5):
                at_ms = to_ms(HUNG + timedelta(minutes=minute))
                db.execute(
                    "insert or ignore into reading (sensor_id, taken_ms, uptime_ms, temperature_c,"
                    " humidity_pct) values (1, ?, 0, ?, ?)",
                    (at_ms, 12.0 if minute < 24 * 60 else 14.0, 80.0),
                )

    def _pull(self, number: int) -> None:
        self.readings()
        at = HUNG + timedelta(days=2, hours=1)
        pull_group(self.db, 1, now=NOW, at=at, by=ANN)
        name = GroupName(batch=number, letter="A")
        profile = finish_profile(
            *(self.db, name),
            key="tasted",
            tasted_at=at + timedelta(hours=2),
            by=ANN,
            now=NOW,
            rating=4,
            words="holds itself up, moist",
        )
        add_entry(self.db, number, profile)

    def _correct(self) -> None:
        changes = {"weight_g": 61.7, "note": "read again"}
        correct(self.db, Kept.WEIGH_IN, "weigh 1B1 3", changes, key="edit 1", by=BEN, now=NOW)
        strike_out(self.db, Kept.WEIGH_IN, "weigh 1A2 1", key="edit 2", by=BEN, now=NOW, why="1A1")
        drip = {"fat_drip_g": 12.5}
        correct(self.db, Kept.BATCH, "batch 1", drip, key="edit 3", by=ANN, now=NOW)
        assert set(batch_ids(self.db)) == {1}
