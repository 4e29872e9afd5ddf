"""What a stored forecast expects of a tagged stick at a moment. Pure."""

from dataclasses import dataclass
from datetime import timedelta
from math import hypot

from hangroom.product.arrival import likely_ratio
from hangroom.product.doneness import WITHIN_80_PCT
from hangroom.product.forecast import Forecast

# Made every hour; one that missed three of those has grown old, and expects nothing of now. Our
# judgement.
OLD_AFTER = timedelta(hours=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A yield on green weight, %, and how far from it 8 of 10 lie at most, in % of green weight."""

    middle_pct: float
    spread_pct: float


def yield_range(middle_ratio: float, sd_ratio: float) -> Range:
    """Return a yield and its standard deviation as a range that holds 8 times in 10."""
    return Range(middle_pct=100.0 * middle_ratio, spread_pct=100.0 * WITHIN_80_PCT * sd_ratio)


def moved_ratio(forecast: Forecast, *, now_h: float) -> float:
    """Return how far the likely yield has moved since the forecast was made, by its curve."""
    then, now = likely_ratio(forecast, forecast.now_h), likely_ratio(forecast, now_h)
    return 0.0 if then is None or now is None else now - then


def group_range(forecast: Forecast, *, now_h: float) -> Range:
    """Return the group's mean yield at a moment, hours since hanging."""
    middle_ratio = forecast.yield_ratio + moved_ratio(forecast, now_h=now_h)
    return yield_range(middle_ratio, forecast.yield_sd_ratio)


def stick_range(forecast: Forecast, tag: str, *, now_h: float) -> Range | None:
    """Return a stick's yield at a moment, weighed or not; None where it was not forecast."""
    for stick in forecast.sticks:
        if stick.tag == tag:
            middle_ratio = stick.yield_ratio + moved_ratio(forecast, now_h=now_h)
            return yield_range(middle_ratio, stick.yield_sd_ratio)
    return None


def weight_band_g(
    expected: Range, *, green_weight_g: float, scale_sd_g: float
) -> tuple[float, float]:
    """Return between which weights 8 of 10 readings of the scale lie, g, lighter first."""
    apart_g = hypot(green_weight_g * expected.spread_pct / 100.0, WITHIN_80_PCT * scale_sd_g)
    likely_g = green_weight_g * expected.middle_pct / 100.0
    return likely_g - apart_g, likely_g + apart_g
