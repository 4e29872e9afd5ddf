"""Cooling and heating: two two-point controllers around one setpoint."""

from hangroom.control.sensors.voting import Air
from hangroom.control.two_point import lowers, raises
from hangroom.control.wish import Wish, blind_off, off, on, safe_off
from hangroom.terms import Because, TemperatureTarget


def cooling_wish(
    air: Air | Because, target: TemperatureTarget, *, closed: bool, has_heater: bool
) -> Wish:
    """Return what the compressor should do; without trusted air, or below the low limit, off.

    It cools through the whole band, for fewer starts, unless a heater works the other half.
    """
    if isinstance(air, Because):
        return blind_off(air)
    seen_c = air.temperature_c
    coldest_c, limit_c = air.lowest_temperature_c, target.low_limit_c
    if coldest_c <= limit_c:
        return safe_off("cold-hard-limit", seen_c=coldest_c, limit_c=limit_c)
    start_c = target.setpoint_c + target.band_c
    stop_c = target.setpoint_c if has_heater else target.setpoint_c - target.band_c
    if not lowers(closed=closed, seen=seen_c, start_at=start_c, stop_at=stop_c):
        return off("cool-enough", seen_c=seen_c, limit_c=start_c)
    if seen_c >= start_c:
        return on("too-warm", seen_c=seen_c, limit_c=start_c)
    return on("still-cooling", seen_c=seen_c, limit_c=stop_c)


def heater_wish(
    air: Air | Because, target: TemperatureTarget, *, closed: bool, has_cooling: bool
) -> Wish:
    """Return what the heater should do; without trusted air, or above the high limit, off."""
    if isinstance(air, Because):
        return blind_off(air)
    seen_c = air.temperature_c
    warmest_c, limit_c = air.highest_temperature_c, target.high_limit_c
    if warmest_c >= limit_c:
        return safe_off("heat-hard-limit", seen_c=warmest_c, limit_c=limit_c)
    start_c = target.setpoint_c - target.band_c
    stop_c = target.setpoint_c if has_cooling else target.setpoint_c + target.band_c
    if not raises(closed=closed, seen=seen_c, start_at=start_c, stop_at=stop_c):
        return off("warm-enough", seen_c=seen_c, limit_c=start_c)
    if seen_c <= start_c:
        return on("too-cold", seen_c=seen_c, limit_c=start_c)
    return on("still-heating", seen_c=seen_c, limit_c=stop_c)
