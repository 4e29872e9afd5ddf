"""What a forecast's curve says of a moment: how likely the target is behind by then."""

from itertools import pairwise
from statistics import NormalDist

from hangroom.product.forecast import CurvePoint, Forecast

_NORMAL = NormalDist()
# 10 and 90 of 100 of a normal distribution lie beyond this many standard deviations.
_Z_P90 = _NORMAL.inv_cdf(0.9)


def point_at(forecast: Forecast, at_h: float) -> CurvePoint | None:
    """Return the curve at a moment, hours since hanging, between its points in straight lines.

    None before its first point and after its last: nothing was forecast there.
    """
    for before, after in pairwise(forecast.curve):
        if before.at_h <= at_h <= after.at_h:
            span_h = after.at_h - before.at_h
            share = (at_h - before.at_h) / span_h if span_h > 0.0 else 1.0
            return CurvePoint(
                at_h=at_h,
                low_ratio=before.low_ratio + share * (after.low_ratio - before.low_ratio),
                middle_ratio=before.middle_ratio
                + share * (after.middle_ratio - before.middle_ratio),
                high_ratio=before.high_ratio + share * (after.high_ratio - before.high_ratio),
            )
    return None


def likely_ratio(forecast: Forecast, at_h: float) -> float | None:
    """Return the yield on green weight that is as likely missed as passed at a moment, or None."""
    point = point_at(forecast, at_h)
    return None if point is None else point.middle_ratio


def arrival_chance_ratio(forecast: Forecast, at_h: float) -> float | None:
    """Return the chance, 0 to 1, that the target is behind at a moment; None off the curve.

    The yield at one moment is taken as normal on either side of its middle.
    """
    point = point_at(forecast, at_h)
    if point is None:
        return None
    missed_ratio = point.middle_ratio - forecast.target_yield_ratio
    side_ratio = (
        point.middle_ratio - point.low_ratio
        if missed_ratio > 0.0
        else point.high_ratio - point.middle_ratio
    )
    if missed_ratio == 0.0:
        return 0.5
    if side_ratio <= 0.0:
        return 0.0 if missed_ratio > 0.0 else 1.0
    return _NORMAL.cdf(-missed_ratio * _Z_P90 / side_ratio)
