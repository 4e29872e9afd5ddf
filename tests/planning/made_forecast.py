"""A forecast with every value given by hand, to judge the rules that read one."""

from dataclasses import replace
from typing import Any

from hangroom.product.forecast import Belief, Beliefs, CurvePoint, Forecast

BELIEFS = Beliefs(
    transfer_kg_per_m2_s_pa=Belief(median=1.2e-8, ln_sd=0.5),
    diffusivity_m2_per_s=Belief(median=6.5e-11, ln_sd=0.45),
)


def falling(now_h: float, yield_ratio: float, per_h_ratio: float) -> tuple[CurvePoint, ...]:
    """A curve that falls in a straight line, with a spread that grows from nothing."""
    return tuple(
        CurvePoint(
            at_h=now_h + ahead_h,
            low_ratio=yield_ratio - 1.25 * per_h_ratio * ahead_h,
            middle_ratio=yield_ratio - per_h_ratio * ahead_h,
            high_ratio=yield_ratio - 0.75 * per_h_ratio * ahead_h,
        )
        for ahead_h in range(0, 97, 4)
    )


# Falls 0.2 % of the green weight an hour from 76 %; 72 % is reached between 16 h (10 of 100:
# 0.04 / 0.0025) and 26.7 h (0.04 / 0.0015) from now on, most likely after 20 h.
GENTLE = Forecast(
    now_h=48.0,
    target_yield_ratio=0.72,
    hung_ratio=0.85,
    yield_ratio=0.76,
    yield_sd_ratio=0.005,
    p10_h=64.0,
    p50_h=68.0,
    p90_h=74.7,
    never_pct=0.0,
    loss_pct_per_day=5.0,
    surface_to_core_ratio=0.75,
    least_surface_to_core_ratio=0.70,
    surface_aw=0.88,
    core_aw=0.91,
    effective_particles=400.0,
    sticks=(),
    curve=falling(48.0, 0.76, 0.002),
    beliefs=BELIEFS,
    remarks=(),
    ms=50.0,
)


def made_forecast(**values: Any) -> Forecast:  # noqa: ANN401 - any field of a forecast
    """Return the gentle forecast with some of its values changed."""
    return replace(GENTLE, **values)
