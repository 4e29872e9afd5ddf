"""Humidifier and exhaust fan: two two-point controllers with a neutral zone between them.

The humidifier works in the lower half of the band, the exhaust fan in the upper half, and both
stop at the setpoint. They start before the edge of the band, because the sensor answers late:
dead time and lag of a room sensor are 20 to 35 s, and the air goes on drifting meanwhile.
"""

from hangroom.control.trust import Air
from hangroom.control.two_point import lowers, raises
from hangroom.control.wish import Wish, blind_off, off, on, safe_off
from hangroom.terms import Because, HumidityTarget

# Share of the half-band at which either side starts. Judged, not published: at 0.6 the drift
# during the sensor's delay stays inside the band in the simulated closet.
START_SHARE = 0.6


def humidifier_wish(air: Air | Because, target: HumidityTarget, *, closed: bool) -> Wish:
    """Return what the humidifier should do; without trusted air, or above the hard limit, off."""
    if isinstance(air, Because):
        return blind_off(air)
    seen_pct = air.humidity_pct
    if seen_pct >= target.high_limit_pct:
        return safe_off("humidity-hard-limit", seen_pct=seen_pct, limit_pct=target.high_limit_pct)
    start_pct = target.setpoint_pct - START_SHARE * target.band_pct
    stop_pct = target.setpoint_pct
    if not raises(closed=closed, seen=seen_pct, start_at=start_pct, stop_at=stop_pct):
        return off("moist-enough", seen_pct=seen_pct, limit_pct=start_pct)
    if seen_pct <= start_pct:
        return on("too-dry", seen_pct=seen_pct, limit_pct=start_pct)
    return on("still-humidifying", seen_pct=seen_pct, limit_pct=stop_pct)


def exhaust_wish(air: Air | Because, target: HumidityTarget, *, closed: bool) -> Wish:
    """Return what the exhaust fan should do; without trusted air, or below the low limit, off."""
    if isinstance(air, Because):
        return blind_off(air)
    seen_pct = air.humidity_pct
    if seen_pct <= target.low_limit_pct:
        return safe_off("humidity-low-limit", seen_pct=seen_pct, limit_pct=target.low_limit_pct)
    start_pct = target.setpoint_pct + START_SHARE * target.band_pct
    stop_pct = target.setpoint_pct
    if not lowers(closed=closed, seen=seen_pct, start_at=start_pct, stop_at=stop_pct):
        return off("dry-enough", seen_pct=seen_pct, limit_pct=start_pct)
    if seen_pct >= start_pct:
        return on("too-humid", seen_pct=seen_pct, limit_pct=start_pct)
    return on("still-airing", seen_pct=seen_pct, limit_pct=stop_pct)
