"""A group that dries at a constant rate, whose plan can be worked out by hand.

While the surface of a stick is what holds its drying up (a small Biot number) and its water
activity hardly changes, the loss per hour is k (aw - H): the first law of Fick across a film. Then
readiness is (yield - target) / (k (aw - H)) from now, and the humidity for a wanted moment follows
by solving for H. The surface's water beside the core's is taken as falling in proportion to the
same pull, 1 - c (aw - H).
"""

from collections.abc import Callable
from itertools import pairwise

from planning.made_forecast import made_forecast

from hangroom.product.forecast import AirPlanned, Forecast, Question
from hangroom.product.humidity_plan import GroupWanted, SetpointLimits

AW = 0.93
RATE_PER_H = 0.008
PER_PULL_RATIO = 1.4


def question(*, now_h: float = 24.0, target: float = 0.60, humidity_pct: float = 75.0) -> Question:
    return Question(
        tagged=(),
        sticks_in_group=12,
        target_yield_ratio=target,
        water_fraction=0.56,
        diameter_mm=19.0,
        diameter_measured=True,
        scale_sd_g=0.5,
        now_h=now_h,
        air=(),
        plan=(AirPlanned(from_h=0.0, temperature_c=13.0, humidity_pct=humidity_pct),),
    )


def wanted(group: str = "group A", *, at_h: float | None, target: float = 0.60) -> GroupWanted:
    return GroupWanted(group=group, question=question(target=target), wanted_h=at_h)


def constant_rate(yield_ratio: float = 0.78) -> Callable[..., Forecast]:
    """Return what forecasts a group that is now at a yield, always with a certain outcome."""

    def ask(each: GroupWanted, plan: tuple[AirPlanned, ...]) -> Forecast:
        asked = each.question
        left, at_h, ready_h = yield_ratio - asked.target_yield_ratio, asked.now_h, None
        ends = [*[step.from_h for step in plan], 1e9]
        pulls = [max(AW - step.humidity_pct / 100.0, 0.0) for step in plan]
        spent: list[float] = []
        for pull, (from_h, to_h) in zip(pulls, pairwise(ends), strict=True):
            if to_h <= asked.now_h or ready_h is not None:
                continue
            at_h = max(from_h, asked.now_h)
            spent.append(pull)
            lost = RATE_PER_H * pull * (to_h - at_h)
            if lost >= left > 0.0:
                ready_h = at_h + left / (RATE_PER_H * pull)
            left -= lost
        if yield_ratio <= asked.target_yield_ratio:
            ready_h = asked.now_h
        return made_forecast(
            now_h=asked.now_h,
            target_yield_ratio=asked.target_yield_ratio,
            yield_ratio=yield_ratio,
            p10_h=ready_h,
            p50_h=ready_h,
            p90_h=ready_h,
            never_pct=0.0 if ready_h is not None else 100.0,
            surface_to_core_ratio=1.0,
            least_surface_to_core_ratio=1.0 - PER_PULL_RATIO * max(spent),
        )

    return ask


def humidity_for_pct(hours: float, *, yield_ratio: float = 0.78, target: float = 0.60) -> float:
    """The humidity at which a group is ready in so many hours, by solving for H."""
    return 100.0 * (AW - (yield_ratio - target) / (RATE_PER_H * hours))


def humidity_at_ratio_pct(least_ratio: float) -> float:
    """The humidity at which the surface comes down to a ratio, by solving for H."""
    return 100.0 * (AW - (1.0 - least_ratio) / PER_PULL_RATIO)


def flat_floors(
    _wanted: GroupWanted, _now: Forecast, _limits: SetpointLimits, least_ratio: float
) -> tuple[float, ...]:
    """Floors as a single stick would give them, two points too bold on purpose."""
    return (humidity_at_ratio_pct(least_ratio) - 2.0,) * 21
