"""What the demo's batches were made of and how, before they hung. Invented, every figure of it.

Some is missing on purpose, as in life: nobody measured water activity, the sums of one batch were
never checked by a second person, and its chill has no readings. The page says so.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.product.recipe import Erythorbate, curing_sums
from hangroom.product.temperatures import celsius
from hangroom.store.record.edits import Kept, correct
from hangroom.store.record.entries import add_entry
from hangroom.store.record.recipe import LineKind, RecipeLine, add_recipe_lines, as_recipe
from hangroom.store.record.series import Origin, Series, SeriesKind, TemperaturePoint, add_series
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.sums import FrozenSums, check_sums

ANN, BEN = "Ann (invented)", "Ben (invented)"
MIXED_BEFORE_H = 20.0

# The way of the trade, common practice: what, the smoker's air in degF, from and until how many
# hours before hanging, and the wet bulb in degF where somebody looked.
WAY: tuple[tuple[StepKind, int | None, float, float, int | None], ...] = (
    (StepKind.CASING_DRY, None, 8.5, 7.5, None),
    (StepKind.SMOKE, 130, 7.5, 6.5, 98),
    (StepKind.SMOKE, 140, 6.5, 5.5, None),
    (StepKind.SMOKE, 150, 5.5, 3.0, None),
    (StepKind.FINISH, 180, 3.0, 2.7, None),
    (StepKind.CHILL, None, 2.7, 2.2, None),
)
START_C, BATH_C = 11.0, 0.5
# How fast a stick follows the smoker and the ice bath; drying keeps it below the smoker's air.
SMOKER_TIME_MIN, BATH_TIME_MIN = 38.0, 7.0
BELOW_AIR_K = 4.0
COOK_EVERY_MIN, CHILL_EVERY_MIN = 2, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleRecord:
    """One batch's recipe, g, and what was left out of its record.

    `lines`: kind, name, weight and, for a meat, its NDB number.
    """

    lines: Sequence[tuple[LineKind, str, float, str | None]]
    checked_by: str | None
    chill_read: bool

    @property
    def mixed_g(self) -> float:
        """Weight of all lines together."""
        return sum(weight_g for _kind, _name, weight_g, _ndb in self.lines)


COARSE = SampleRecord(
    lines=(
        (LineKind.MEAT, "Pork shoulder", 900.0, "10219"),
        (LineKind.MEAT, "Venison", 420.0, "17343"),
        (LineKind.SALT, "Salt", 21.0, None),
        (LineKind.CURING_SALT, "Curing salt #1", 3.2, None),
        (LineKind.WATER, "Ice water", 45.0, None),
        (LineKind.SUGAR, "Dextrose", 5.0, None),
        (LineKind.SPICE, "Pepper and caraway", 13.8, None),
    ),
    checked_by=None,
    chill_read=False,
)
JUNIPER = SampleRecord(
    lines=(
        (LineKind.MEAT, "Pork shoulder", 1500.0, "10219"),
        (LineKind.MEAT, "Venison", 820.0, "17343"),
        (LineKind.SALT, "Salt", 36.0, None),
        (LineKind.CURING_SALT, "Curing salt #1", 5.7, None),
        (LineKind.WATER, "Ice water", 70.0, None),
        (LineKind.SUGAR, "Dextrose", 7.0, None),
        (LineKind.SPICE, "Juniper, mustard seed and pepper", 24.2, None),
        (LineKind.ERYTHORBATE, "Sodium erythorbate", 1.1, None),
    ),
    checked_by=BEN,
    chill_read=True,
)


def enter_record(db: Database, number: int, sample: SampleRecord, *, hung_at: datetime) -> None:
    """Enter recipe, sums, steps and temperatures of a batch that was hung at a moment."""
    mixed_at = hung_at - timedelta(hours=MIXED_BEFORE_H)
    lines = [_line(number, place, each, mixed_at) for place, each in enumerate(sample.lines)]
    add_recipe_lines(db, number, lines)
    recipe = as_recipe(lines)
    if recipe is not None:
        sums = curing_sums(recipe)
        worked = (sums.nitrite, sums.salt, sums.erythorbate)
        frozen = FrozenSums(
            key=f"sample {number} sums",
            entered_at=mixed_at,
            entered_by=ANN,
            sums=tuple(one for one in worked if one is not None),
        )
        add_entry(db, number, frozen)
        if sample.checked_by is not None:
            check_sums(db, frozen.key, by=sample.checked_by, now=mixed_at + timedelta(minutes=9))
    for step in _steps(number, hung_at):
        add_entry(db, number, step)
    for series in _series(number, sample, hung_at):
        add_series(db, number, series)


def correct_green_weight(db: Database, batch_key: str, green_g: float, *, at: datetime) -> None:
    """Correct a batch's green weight, as a keeper does who looks at the slip again."""
    correct(
        db,
        Kept.BATCH,
        batch_key,
        {"green_weight_g": green_g},
        key=f"{batch_key} green weight",
        by=BEN,
        now=at,
        why="read off the slip again",
    )


def _line(
    number: int, place: int, line: tuple[LineKind, str, float, str | None], at: datetime
) -> RecipeLine:
    kind, name, weight_g, ndb = line
    return RecipeLine(
        key=f"sample {number} line {place}",
        entered_at=at,
        entered_by=ANN,
        place=place,
        kind=kind,
        name=name,
        weight_g=weight_g,
        ndb=ndb,
        nitrite_pct=6.25 if kind is LineKind.CURING_SALT else None,
        erythorbate=Erythorbate.SODIUM if kind is LineKind.ERYTHORBATE else None,
    )


def _steps(number: int, hung_at: datetime) -> Iterator[Step]:
    for place, (kind, air_f, from_h, to_h, wet_f) in enumerate(WAY):
        yield Step(
            key=f"sample {number} step {place}",
            entered_at=hung_at,
            entered_by=ANN,
            kind=kind,
            from_at=hung_at - timedelta(hours=from_h),
            to_at=hung_at - timedelta(hours=to_h),
            set_temperature_c=None if air_f is None else celsius(air_f),
            wet_bulb_c=None if wet_f is None else celsius(wet_f),
            room="closet" if kind is StepKind.CASING_DRY else None,
            note="ice bath" if kind is StepKind.CHILL else "",
        )


def _series(number: int, sample: SampleRecord, hung_at: datetime) -> Iterator[Series]:
    cook = list(_cook(hung_at))
    parts = [(SeriesKind.COOK, Origin.CSV, cook)]
    if sample.chill_read:
        parts.append((SeriesKind.CHILL, Origin.TYPED, list(_chill(cook[-1]))))
    for kind, origin, points in parts:
        yield Series(
            key=f"sample {number} {kind}",
            entered_at=hung_at,
            entered_by=ANN,
            kind=kind,
            probe="thickest stick, middle of the upper rail",
            origin=origin,
            points=tuple(points),
        )


def _cook(hung_at: datetime) -> Iterator[TemperaturePoint]:
    """A core that follows the air of each step, read by a logger."""
    core_c = START_C
    share = COOK_EVERY_MIN / SMOKER_TIME_MIN
    for kind, air_f, from_h, to_h, _wet_f in WAY:
        if air_f is None:
            continue
        at, until = hung_at - timedelta(hours=from_h), hung_at - timedelta(hours=to_h)
        while at < until:
            yield TemperaturePoint(at=at, temperature_c=round(core_c, 1))
            below_k = 0.0 if kind is StepKind.FINISH else BELOW_AIR_K
            core_c += share * (celsius(air_f) - below_k - core_c)
            at += timedelta(minutes=COOK_EVERY_MIN)


def _chill(last: TemperaturePoint) -> Iterator[TemperaturePoint]:
    core_c, at = last.temperature_c, last.at
    for _minute in range(0, 28, CHILL_EVERY_MIN):
        at += timedelta(minutes=CHILL_EVERY_MIN)
        core_c += CHILL_EVERY_MIN / BATH_TIME_MIN * (BATH_C - core_c)
        yield TemperaturePoint(at=at, temperature_c=round(core_c, 1))
