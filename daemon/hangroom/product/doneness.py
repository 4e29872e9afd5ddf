"""How done a group is and about when it gets to its target: a first, plain estimate.

A straight line through the last two inspections, with a range. It knows nothing of the air, the
casing or the recipe; a drying model takes its place where one is there. Its range is wide on
purpose: thin sticks dry fast first and ever more slowly later, so that a straight line is early
more often than late.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean, pstdev

# 80 % of a normal distribution lies within this many standard deviations of its mean.
WITHIN_80_PCT = 1.2816

# How much the loss of sticks of one group differs, as a share of the loss. Between-bundle
# scatter of one published amateur batch: 39.8, 35.3, 39.1, 38.5 % lost; sd 2 points of 38.
STICK_SPREAD_RATIO = 0.06

# How far the later rate may fall below the present one before the target is reached. A judgement,
# no published figure: diffusion slows with the square root of time at first, and more later.
LATE_RATE_SHARE = 0.55

# Daily loss, % of hang weight, that thin sticks (16-25 mm) show between a humid and a dry room,
# before anything was weighed. Computed range of a drying model at 12 C, 55 to 82 %RH.
USUAL_LOSS_PCT_PER_DAY = (2.8, 12.4)


# A loss slower than this is no basis for a date: a tenth of a gram on a stick of 80 g is 12 times
# as much. A judgement, no published figure.
LEAST_LOSS_PCT_PER_DAY = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """One look at a group: when, and the yield on green weight of each stick weighed then, %."""

    at: datetime
    yields_pct: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """When a target may be reached: meant to hold the moment 8 times in 10.

    `likely_at` is None where nothing was weighed yet to draw a line through.
    """

    earliest_at: datetime
    likely_at: datetime | None
    latest_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """What can be said about a group; yield and spread on green weight, at the newest inspection.

    `arrived`: the target is behind. `window` is None where it is, or where the group lost next to
    nothing between the last two inspections. `weighed`: whether a weigh-in after hanging stands
    behind it.
    """

    yield_pct: float
    spread_pct: float
    loss_pct_per_day: float | None
    arrived: bool
    window: Window | None
    weighed: bool


def estimate(inspections: Sequence[Inspection], *, target_yield_pct: float) -> Estimate | None:
    """Return where a group stands and when it may arrive, or None where nothing was weighed.

    `inspections`: oldest first, the first being the weights as hung. Times that do not advance
    or a yield that rises give no rate: nothing is invented.
    """
    looks = [look for look in inspections if look.yields_pct]
    if not looks:
        return None
    newest = looks[-1]
    yield_pct = fmean(newest.yields_pct)
    to_lose_pct = yield_pct - target_yield_pct
    lost_pct = fmean(looks[0].yields_pct) - yield_pct
    spread_pct = max(pstdev(newest.yields_pct), STICK_SPREAD_RATIO * lost_pct)
    rate_pct_per_day = _loss_pct_per_day(looks[-2], newest) if len(looks) > 1 else None
    window = None
    if to_lose_pct > 0 and len(looks) == 1:
        window = _usual_window(newest.at, yield_pct, to_lose_pct)
    elif to_lose_pct > 0 and rate_pct_per_day is not None:
        window = _window(newest.at, to_lose_pct, spread_pct, rate_pct_per_day)
    return Estimate(
        yield_pct=yield_pct,
        spread_pct=spread_pct,
        loss_pct_per_day=rate_pct_per_day,
        arrived=to_lose_pct <= 0,
        window=window,
        weighed=len(looks) > 1,
    )


def _loss_pct_per_day(before: Inspection, newest: Inspection) -> float | None:
    days = (newest.at - before.at) / timedelta(days=1)
    lost_pct = fmean(before.yields_pct) - fmean(newest.yields_pct)
    if days <= 0 or lost_pct < LEAST_LOSS_PCT_PER_DAY * days:
        return None
    return lost_pct / days


def _window(at: datetime, to_lose_pct: float, spread_pct: float, rate_pct_per_day: float) -> Window:
    margin_pct = WITHIN_80_PCT * spread_pct
    return Window(
        earliest_at=_after(at, to_lose_pct - margin_pct, rate_pct_per_day),
        likely_at=_after(at, to_lose_pct, rate_pct_per_day),
        latest_at=_after(at, to_lose_pct + margin_pct, rate_pct_per_day * LATE_RATE_SHARE),
    )


def _usual_window(hung_at: datetime, yield_pct: float, to_lose_pct: float) -> Window:
    # The usual losses are on hang weight; yields here are on green weight.
    slow, fast = (loss * yield_pct / 100 for loss in USUAL_LOSS_PCT_PER_DAY)
    return Window(
        earliest_at=_after(hung_at, to_lose_pct, fast),
        likely_at=None,
        latest_at=_after(hung_at, to_lose_pct, slow * LATE_RATE_SHARE),
    )


def _after(at: datetime, to_lose_pct: float, rate_pct_per_day: float) -> datetime:
    return at + timedelta(days=max(0.0, to_lose_pct) / rate_pct_per_day)
