"""The driest air, day by day, in which one stick keeps its surface moist enough beside its core.

Reckoned on a single usual stick from where it is now; the humidity plan tries the outcome on every
way the drying may go, and moves it where that one stick was too bold.
"""

from collections.abc import Callable
from itertools import accumulate
from math import exp

from hangroom.product.drying import (
    Air,
    Drying,
    Maths,
    Stick,
    core_water_ratio,
    mean_water_ratio,
    step,
)

HOURS_PER_DAY = 24
# How finely a day's humidity is sought, %RH: finer than any room is kept.
FINE_ENOUGH_PCT = 0.05
PCT_PER_RATIO = 100.0

_MATHS = Maths(exp=exp, larger=max)


def drying_at(stick: Stick, loss_ratio: float, surface_to_core_ratio: float) -> Drying:
    """Return a stick of which its loss and its surface's water beside its core's are known."""
    # While the front has not come to the middle, that is as wet as it was hung.
    surface_ratio = surface_to_core_ratio * stick.water_ratio
    young = Drying(loss_ratio=loss_ratio, surface_ratio=surface_ratio)
    if core_water_ratio(stick, young, _MATHS) >= stick.water_ratio:
        return young
    # Later the middle is that of a parabola: core = 2 mean - surface, and surface = ratio x core.
    mean_ratio = mean_water_ratio(stick, loss_ratio)
    surface_ratio = 2.0 * mean_ratio * surface_to_core_ratio / (1.0 + surface_to_core_ratio)
    return Drying(loss_ratio=loss_ratio, surface_ratio=surface_ratio)


def gentle_floors(
    stick: Stick,
    now: Drying,
    *,
    temperature_c: float,
    saturation_pa: float,
    least_ratio: float,
    target_loss_ratio: float,
    lowest_pct: float,
    highest_pct: float,
    days: int,
) -> tuple[float, ...]:
    """Return each day's driest humidity, %RH, that keeps surface over core at `least_ratio`.

    No day is drier than a later one: a fresh surface would stand drier air for some hours, but it
    is the early rim that shuts water in. `target_loss_ratio`: share of the weight as hung after
    which the days repeat the last one. Where even `highest_pct` is too dry, it stands.
    """
    floors: list[float] = []
    drying = now
    for _ in range(days):
        if drying.loss_ratio >= target_loss_ratio:
            break

        def keeps(humidity_pct: float, before: Drying = drying) -> bool:
            return _day(stick, before, temperature_c, saturation_pa, humidity_pct)[1] >= least_ratio

        floors.append(_driest_pct(keeps, lowest_pct, highest_pct))
        drying, _least = _day(stick, drying, temperature_c, saturation_pa, floors[-1])
    last_pct = floors[-1] if floors else highest_pct
    floors += [last_pct] * (days - len(floors))
    return tuple(accumulate(reversed(floors), max))[::-1]


def _driest_pct(keeps: Callable[[float], bool], lowest_pct: float, highest_pct: float) -> float:
    if keeps(lowest_pct):
        return lowest_pct
    too_dry_pct, moist_pct = lowest_pct, highest_pct
    while moist_pct - too_dry_pct > FINE_ENOUGH_PCT:
        middle_pct = (too_dry_pct + moist_pct) / 2.0
        if keeps(middle_pct):
            moist_pct = middle_pct
        else:
            too_dry_pct = middle_pct
    return moist_pct


def _day(
    stick: Stick, drying: Drying, temperature_c: float, saturation_pa: float, humidity_pct: float
) -> tuple[Drying, float]:
    """Return the stick after a day in one air, and the least surface over core on the way."""
    air = Air(
        temperature_c=temperature_c,
        saturation_pa=saturation_pa,
        humidity_ratio=humidity_pct / PCT_PER_RATIO,
    )
    least_ratio = float("inf")
    for _ in range(HOURS_PER_DAY):
        drying = step(stick, drying, air, 1.0, _MATHS)
        least_ratio = min(
            least_ratio, drying.surface_ratio / core_water_ratio(stick, drying, _MATHS)
        )
    return drying, least_ratio
