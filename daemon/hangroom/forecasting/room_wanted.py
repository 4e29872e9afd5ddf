"""What is asked of the planner for one room, and its plan in the room's own setpoints. Pure.

A room may keep a little off its setpoint, and its sensor tells by how much. The planner reckons in
the air that will be; what the room is told are setpoints.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from hangroom.errors import InputError
from hangroom.forecasting.question import Prepared
from hangroom.product.forecast import Forecast, Remark
from hangroom.product.humidity_plan import GroupWanted, HumidityPlan, SetpointLimits
from hangroom.store.plans import Wish
from hangroom.terms import HumidityTarget, RoomPlan, Stage

# A setpoint's band must lie inside the hard limits, not on them.
INSIDE_PCT = 0.01
DECIMALS = 2
# Figures of a plan's remarks that are humidities of the room.
HUMIDITIES = frozenset({"lowest_pct", "highest_pct", "humidity_pct"})


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingGroup:
    """A group that hangs in the room: its name in sentences, its question, its wish or None."""

    name: str
    about: Prepared
    wish: Wish | None


def hang_target(plan: RoomPlan) -> HumidityTarget | None:
    """Return what the stage of hanging asks of a room's humidity, None where nothing."""
    own = plan.stages.get(Stage.HANG)
    return own.humidity if own is not None else plan.humidity


def setpoint_limits(target: HumidityTarget) -> SetpointLimits:
    """Return between which setpoints the band lies inside the room's hard limits."""
    return SetpointLimits(
        lowest_pct=round(target.low_limit_pct + target.band_pct + INSIDE_PCT, DECIMALS),
        highest_pct=round(target.high_limit_pct - target.band_pct - INSIDE_PCT, DECIMALS),
    )


def kept_off_pct(plan: RoomPlan, target: HumidityTarget, groups: Sequence[HangingGroup]) -> float:
    """Return how far the air is kept from the setpoint, %RH, never further than the band."""
    expected = next((each.about.question.plan for each in groups if each.about.question.plan), ())
    if plan.stage is not Stage.HANG or not expected:
        return 0.0
    off_pct = expected[0].humidity_pct - target.setpoint_pct
    return max(-target.band_pct, min(target.band_pct, off_pct))


def wanted_of(groups: Sequence[HangingGroup], *, now: datetime) -> tuple[GroupWanted, ...]:
    """Return what is wanted of each group, in hours since it was hung.

    One whose moment has gone by is wanted as soon as it can be while it dries gently.
    """
    wanted = []
    for each in groups:
        at = each.wish.wanted_at if each.wish else None
        after = None if at is None or at <= now else (at - each.about.hung_at) / timedelta(hours=1)
        wanted.append(
            GroupWanted(
                group=each.name,
                question=each.about.question,
                wanted_h=after,
                asked=each.wish is not None,
            )
        )
    return tuple(wanted)


def moved(limits: SetpointLimits, by_pct: float) -> SetpointLimits:
    """Return limits moved from setpoints to the air that they bring, %RH."""
    return SetpointLimits(
        lowest_pct=limits.lowest_pct + by_pct, highest_pct=limits.highest_pct + by_pct
    )


def in_setpoints(plan: HumidityPlan, limits: SetpointLimits, off_pct: float) -> HumidityPlan:
    """Return a plan of the air as setpoints; InputError where one lies outside the limits."""
    steps = tuple(
        replace(step, humidity_pct=round(step.humidity_pct - off_pct, DECIMALS))
        for step in plan.steps
    )
    slack_pct = 2.0 * INSIDE_PCT
    for step in steps:
        low_pct, high_pct = limits.lowest_pct - slack_pct, limits.highest_pct + slack_pct
        if not low_pct <= step.humidity_pct <= high_pct:
            raise InputError(
                f"The plan was thrown away: its {step.humidity_pct:g} % lie outside the room's"
                f" {limits.lowest_pct:g} to {limits.highest_pct:g} %. Ask for a new one."
            )
    clipped = tuple(
        replace(
            step,
            humidity_pct=min(max(step.humidity_pct, limits.lowest_pct), limits.highest_pct),
        )
        for step in steps
    )
    remarks = tuple(_in_setpoint(remark, off_pct) for remark in plan.remarks)
    groups = tuple(
        replace(each, as_it_is=_short(each.as_it_is), planned=_short(each.planned))
        for each in plan.groups
    )
    return replace(plan, steps=clipped, groups=groups, remarks=remarks)


def _short(forecast: Forecast) -> Forecast:
    """Return a forecast without what nobody reads in a plan, which is looked at all the time."""
    return replace(forecast, curve=(), sticks=(), remarks=())


def _in_setpoint(remark: Remark, off_pct: float) -> Remark:
    figures: Mapping[str, float | str] = {
        name: value - off_pct if name in HUMIDITIES and isinstance(value, float) else value
        for name, value in remark.figures.items()
    }
    return replace(remark, figures=figures)
