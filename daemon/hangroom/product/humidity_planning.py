"""Planning a room's humidity for its groups; the search itself is in `humidity_search`."""

from collections.abc import Callable, Sequence

from hangroom.errors import InputError
from hangroom.product.drying_lights import GREEN_FROM_RATIO, RED_BELOW_RATIO
from hangroom.product.forecast import Forecast
from hangroom.product.humidity_plan import (
    GroupPlanned,
    GroupWanted,
    HumidityPlan,
    HumidityStep,
    SetpointLimits,
)
from hangroom.product.humidity_search import Ask, Search, Tried, search_within
from hangroom.product.plan_remarks import Found, arrived_remarks, remarks_of
from hangroom.product.planned_air import humidity_now_pct

# Each day's driest humidity, %RH, in which a group's surface keeps to a bound: of the group, its
# forecast, the room's limits and the bound.
FloorsOf = Callable[[GroupWanted, Forecast, SetpointLimits, float], tuple[float, ...]]


def plan_humidity(
    groups: Sequence[GroupWanted],
    *,
    limits: SetpointLimits,
    ask: Ask,
    floors_of: FloorsOf,
    least_ratio: float = GREEN_FROM_RATIO,
) -> HumidityPlan:
    """Return the setpoints that bring each group nearest to when it is wanted.

    `ask` forecasts. `least_ratio`: how far a surface's water may fall beside its core's; where it
    is below that already, it must not fall further. Raises InputError without any group, for
    limits that leave no humidity, and for a moment that is past.
    """
    _check(groups, limits)
    as_it_is = [ask(each, each.question.plan) for each in groups]
    tried = [Tried(each, now, ask) for each, now in zip(groups, as_it_is, strict=True)]
    still = [one for one in tried if not _arrived(one.as_it_is)]
    if not still:
        done = _outcome(tried, {})
        return HumidityPlan(steps=(), groups=done, remarks=arrived_remarks(done))

    def search_with(ratio: float) -> Search:
        floors = [floors_of(one.wanted, one.as_it_is, limits, ratio) for one in still]
        return search_within(still, limits, floors, ratio)

    search = search_with(least_ratio)
    steps = search.steps(search.best_pct())
    planned = {one.wanted.group: one.under(steps) for one in still}
    outcome = _outcome(tried, planned)
    late = any(each.miss_h is not None and each.miss_h > 0.0 for each in outcome)
    found = Found(
        limits=limits,
        steps=steps,
        least_ratio=least_ratio,
        keeps_surface=all(one.keeps(steps, least_ratio) for one in still),
        held_by_surface=search.held_by_surface,
        at_driest=steps == search.steps(limits.lowest_pct),
        at_moistest=steps == search.steps(limits.highest_pct),
        before_pct=humidity_now_pct(still[0].wanted.question),
        alone_pct={one.wanted.group: search.alone_pct(one) for one in still if one.wanted.asked},
        hurried=_hurried(still, search_with) if late and search.held_by_surface else None,
        hurried_ratio=RED_BELOW_RATIO,
    )
    return HumidityPlan(steps=steps, groups=outcome, remarks=remarks_of(outcome, found))


def _check(groups: Sequence[GroupWanted], limits: SetpointLimits) -> None:
    if not groups:
        raise InputError("No group hangs there to plan for. Hang one, then ask again.")
    if not limits.lowest_pct <= limits.highest_pct:
        raise InputError(
            f"The room's limits leave no humidity to choose: {limits.lowest_pct:g} to"
            f" {limits.highest_pct:g} %. Set them further apart, or the band narrower."
        )
    for each in groups:
        if each.wanted_h is not None and each.wanted_h <= each.question.now_h:
            raise InputError(
                f"{each.group} is wanted at a time that is past. Choose one that is to come."
            )


def _arrived(forecast: Forecast) -> bool:
    return forecast.yield_ratio <= forecast.target_yield_ratio


def _outcome(tried: Sequence[Tried], planned: dict[str, Forecast]) -> tuple[GroupPlanned, ...]:
    return tuple(
        GroupPlanned(
            group=one.wanted.group,
            wanted_h=one.wanted.wanted_h,
            asked=one.wanted.asked,
            as_it_is=one.as_it_is,
            planned=planned.get(one.wanted.group, one.as_it_is),
        )
        for one in tried
    )


def _hurried(still: Sequence[Tried], search_with: Callable[[float], Search]) -> dict[str, Forecast]:
    """Return the forecasts where surfaces may dry as far as is still not called too far."""
    search = search_with(RED_BELOW_RATIO)
    steps: tuple[HumidityStep, ...] = search.steps(search.best_pct())
    return {one.wanted.group: one.under(steps) for one in still}
