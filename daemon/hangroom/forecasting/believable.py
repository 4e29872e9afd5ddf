"""Whether an answer can be the forecast of the question that was asked. Pure.

A child that lies must not reach the page: whatever is not in order here is thrown away.
"""

from collections.abc import Iterator
from itertools import pairwise

from hangroom.product.forecast import Beliefs, Forecast, Question

# What no stick on a rail gets to: heavier than when it was green, or a tenth of it.
YIELD_RATIOS = (0.1, 1.1)
# A year: no group hangs for longer, and nothing is forecast beyond.
LONGEST_H = 366 * 24.0
ROUNDING = 1e-6


def fault_in(forecast: Forecast, question: Question) -> str:
    """Return what keeps an answer from being believed, '' where nothing does."""
    return next(_faults(forecast, question), "")


def _faults(told: Forecast, asked: Question) -> Iterator[str]:
    if abs(told.target_yield_ratio - asked.target_yield_ratio) > ROUNDING:
        yield "it is about another target"
    if abs(told.now_h - asked.now_h) > ROUNDING:
        yield "it is about another moment"
    if sorted(one.tag for one in told.sticks) != sorted(one.tag for one in asked.tagged):
        yield "it is about other sticks"
    low_ratio, high_ratio = YIELD_RATIOS
    ratios = [told.yield_ratio, told.hung_ratio, *(one.yield_ratio for one in told.sticks)]
    if not all(low_ratio <= ratio <= high_ratio for ratio in ratios):
        yield "a yield in it cannot be"
    spreads = [told.yield_sd_ratio, *(one.yield_sd_ratio for one in told.sticks)]
    if not all(0.0 <= spread <= 1.0 for spread in spreads):
        yield "a spread in it cannot be"
    if not -ROUNDING <= told.never_pct <= 100.0 + ROUNDING:
        yield "its chance of never arriving is no chance"
    moments_h = [at_h for at_h in (told.p10_h, told.p50_h, told.p90_h) if at_h is not None]
    if moments_h != sorted(moments_h) or any(not -1.0 <= at_h <= LONGEST_H for at_h in moments_h):
        yield "its moments are out of order"
    if not (
        all(0.0 <= aw <= 1.0 + ROUNDING for aw in (told.surface_aw, told.core_aw))
        and told.surface_to_core_ratio >= 0.0
        and told.least_surface_to_core_ratio >= 0.0
    ):
        yield "its surface or core cannot be"
    yield from _curve_faults(told)
    if not _are_beliefs(told.beliefs):
        yield "what it learned cannot be"


def _curve_faults(told: Forecast) -> Iterator[str]:
    if any(after.at_h <= before.at_h for before, after in pairwise(told.curve)):
        yield "its curve goes back in time"
    if any(
        not point.low_ratio <= point.middle_ratio <= point.high_ratio <= YIELD_RATIOS[1]
        or point.low_ratio < 0.0
        for point in told.curve
    ):
        yield "its curve crosses itself"


def _are_beliefs(beliefs: Beliefs) -> bool:
    return all(
        belief.median > 0.0 and belief.ln_sd > 0.0
        for belief in (beliefs.transfer_kg_per_m2_s_pa, beliefs.diffusivity_m2_per_s)
    )
