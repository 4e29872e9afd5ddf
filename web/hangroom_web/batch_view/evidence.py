"""From a batch's record and the rooms' air to what the checks of one group are made on. Pure.

Nothing is filled in: a stay without readings has none, a step whose end was not noted lasts until
the next one began, and where two probes were in at once each is judged by itself.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise, product

from hangroom.air import humidity_from_wet_bulb_pct
from hangroom.errors import InputError
from hangroom.product.checks import Record
from hangroom.product.cooking import SmokerHumidity
from hangroom.product.recipe import Recipe
from hangroom.product.stays import Measurement, Stay, StickState
from hangroom.product.temperatures import Point
from hangroom.store.record.recipe import as_recipe
from hangroom.store.record.series import Series, SeriesKind
from hangroom.store.record.steps import Step, StepKind
from hangroom.store.record.whole import BatchRecord

# A room's warmest readings from a moment to a moment: seconds since the first, degC.
AirOf = Callable[[str, datetime, datetime], Sequence[tuple[float, float]]]

HEAT = frozenset({StepKind.SMOKE, StepKind.COOK, StepKind.FINISH})
# Readings just outside a stay speak for its edges.
EDGE = timedelta(minutes=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A recipe as the sums take it, None where there is none; `fault` says why one cannot be."""

    recipe: Recipe | None
    fault: str = ""


def recorded_recipe(record: BatchRecord) -> Recorded:
    """Return the batch's recipe, or what keeps its lines from being one."""
    try:
        return Recorded(recipe=as_recipe(record.recipe))
    except InputError as fault:
        return Recorded(recipe=None, fault=str(fault))


def of_group(entries: Sequence[Step], letter: str) -> list[Step]:
    """Return the steps that a group went through: its own, and those of the whole batch."""
    return [entry for entry in entries if entry.group in {None, letter}]


def evidence(
    record: BatchRecord, letter: str, *, recipe: Recipe | None, air: AirOf, now: datetime
) -> list[Record]:
    """Return what a group is judged on, once for each cook probe beside each chill probe."""
    origin = record.batch.started_at
    steps = of_group(record.steps, letter)
    heated = [step for step in steps if step.kind in HEAT]
    ends = [step.to_at for step in heated if step.to_at is not None]
    stays = tuple(_stays(record, letter, heated, air=air, now=now))
    measurements = tuple(
        Measurement(at_s=_after_s(one.taken_at, origin), measured=one.measured())
        for one in record.measurements
        if one.group == letter
    )
    return [
        Record(
            recipe=recipe,
            smoker=tuple(_smoker(heated)),
            cook=cook,
            cook_end_s=_after_s(max(ends), origin) if ends else None,
            chill=chill,
            stays=stays,
            measurements=measurements,
        )
        for cook, chill in product(
            _probes(record.series, letter, SeriesKind.COOK, origin),
            _probes(record.series, letter, SeriesKind.CHILL, origin),
        )
    ]


def until_noted(steps: Sequence[Step]) -> Iterator[tuple[Step, datetime | None]]:
    """Yield each step and its end: as noted, else where the next began, else None."""
    for step, later in pairwise([*steps, None]):
        if step is not None:
            yield step, step.to_at or (None if later is None else later.from_at)


def _stays(
    record: BatchRecord, letter: str, heated: Sequence[Step], *, air: AirOf, now: datetime
) -> Iterator[Stay]:
    """Yield where the group hung or dried its casings; raw until the first heat."""
    origin = record.batch.started_at
    heat_at = min((step.from_at for step in heated), default=None)
    hung = [stay for stay in record.stays if stay.group == letter]
    for stay in hung:
        raw = heat_at is not None and stay.from_at < heat_at
        yield _stay(
            stay.room,
            stay.from_at,
            stay.to_at or now,
            state=StickState.RAW if raw else StickState.COOKED,
            origin=origin,
            air=air,
        )
    steps = list(until_noted(of_group(record.steps, letter)))
    for step, to_at in steps:
        if step.kind is not StepKind.CASING_DRY:
            continue
        end = to_at or now
        # Entered as a stay too, the sticks still hung there only once.
        if not any(s.from_at < end and (s.to_at or now) > step.from_at for s in hung):
            yield _stay(step.room, step.from_at, end, state=StickState.RAW, origin=origin, air=air)


def _stay(
    room: str | None,
    from_at: datetime,
    to_at: datetime,
    *,
    state: StickState,
    origin: datetime,
    air: AirOf,
) -> Stay:
    since = from_at - EDGE
    readings = [] if room is None else air(room, since, to_at + EDGE)
    since_s = _after_s(since, origin)
    return Stay(
        from_s=_after_s(from_at, origin),
        to_s=_after_s(to_at, origin),
        state=state,
        points=tuple(Point(since_s + at_s, warmest_c) for at_s, warmest_c in readings),
    )


def _smoker(heated: Sequence[Step]) -> Iterator[SmokerHumidity]:
    for step, to_at in until_noted(heated):
        if to_at is not None:
            yield SmokerHumidity((to_at - step.from_at).total_seconds(), step_humidity_pct(step))


def step_humidity_pct(step: Step) -> float | None:
    """Return a step's humidity in %: as noted, else from its wet bulb; None where it has none."""
    if step.humidity_pct is not None:
        return step.humidity_pct
    if step.wet_bulb_c is None or step.set_temperature_c is None:
        return None
    try:
        return humidity_from_wet_bulb_pct(step.set_temperature_c, step.wet_bulb_c)
    except ValueError:
        return None


def _probes(
    series: Sequence[Series], letter: str, kind: SeriesKind, origin: datetime
) -> list[tuple[Point, ...]]:
    """Return each probe's readings, or one without any; what follows on another goes on from it."""
    probes: list[tuple[Point, ...]] = []
    wanted = [one for one in series if one.kind is kind and one.group in {None, letter}]
    for one in sorted((s for s in wanted if s.points), key=lambda s: s.points[0].at):
        points = one.points_since(origin)
        place = next((i for i, p in enumerate(probes) if p[-1].at_s < points[0].at_s), None)
        if place is None:
            probes.append(points)
        else:
            probes[place] += points
    return probes or [()]


def _after_s(moment: datetime, origin: datetime) -> float:
    return (moment - origin).total_seconds()
