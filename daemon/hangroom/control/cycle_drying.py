"""Drying in a cooled room: by reheating what the coil has dried, or else by venting.

A coil takes vapour out of the air only while the compressor runs, and in a room that is cold enough
it does not run. A small heater keeps it running, and the warmed air holds the same vapour at a
lower humidity. Without one an exhaust fan can vent; the air it draws in may even be moister, since
it warms the room just the same, and the compressor runs for it.

Either moves humidity by far more than the band. So it gets a share of each cycle of the compressor,
and the share follows the mean over the last one.
"""

from dataclasses import dataclass

from hangroom.control.cycle_mean import CYCLE_S, CycleMean
from hangroom.control.sensors.voting import Air
from hangroom.control.wish import Wish, blind_off, off, on, safe_off
from hangroom.terms import Because, HumidityTarget, TemperatureTarget

# A proportional-integral rule on the mean: shares of a cycle for each %RH too much, at once and
# more with every cycle. Judged by simulation of a small fridge, where the whole share moves
# humidity by 20 %. As long as the mean's own cycle: shorter ones start the compressor more often,
# with longer ones the mean swings.
AT_ONCE_PER_PCT = 0.02
MORE_PER_PCT = 0.01
# A shorter run or pause is left out.
SHORTEST_S = 60.0
# Where it is this much warmer than cooling should let it get, nothing cools, and a heater would
# only heat; in half-bands above the setpoint. Our judgement.
TOO_WARM_SHARE = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Drying:
    """A relay's share of the time as learned, and the cycle under way (monotonic seconds).

    `on_s`: how long the relay runs at the beginning of this cycle.
    """

    share_ratio: float = 0.0
    began_uptime_s: float | None = None
    on_s: float = 0.0


UNLEARNED = Drying()


def reheat_wish(
    air: Air | Because,
    mean: CycleMean | None,
    drying: Drying,
    humidity: HumidityTarget,
    temperature: TemperatureTarget,
    *,
    uptime_s: float,
) -> tuple[Wish, Drying]:
    """Return what a heater that reheats should do; temperature goes before humidity.

    Without trusted air, above the high limit of temperature or below the low one of humidity: off.
    """
    if isinstance(air, Because):
        return blind_off(air), drying
    warmest_c, limit_c = air.highest_temperature_c, temperature.high_limit_c
    if warmest_c >= limit_c:
        return safe_off("heat-hard-limit", seen_c=warmest_c, limit_c=limit_c), drying
    too_warm_c = temperature.setpoint_c + TOO_WARM_SHARE * temperature.band_c
    dries = _dries(air, mean, drying, humidity, uptime_s)
    if isinstance(dries, Wish):
        return dries, drying
    if air.temperature_c >= too_warm_c:
        return off("too-warm-to-reheat", seen_c=air.temperature_c, limit_c=too_warm_c), drying
    left_s = dries.on_s - _into_s(dries, uptime_s)
    return (on("reheating", left_s=left_s) if left_s > 0 else _rests(dries, uptime_s)), dries


def vent_wish(
    air: Air | Because,
    mean: CycleMean | None,
    drying: Drying,
    humidity: HumidityTarget,
    *,
    uptime_s: float,
) -> tuple[Wish, Drying]:
    """Return what the exhaust fan of a cooled room should do; without trusted air, off."""
    if isinstance(air, Because):
        return blind_off(air), drying
    dries = _dries(air, mean, drying, humidity, uptime_s)
    if isinstance(dries, Wish):
        return dries, drying
    left_s = dries.on_s - _into_s(dries, uptime_s)
    return (on("venting", left_s=left_s) if left_s > 0 else _rests(dries, uptime_s)), dries


def _dries(
    air: Air, mean: CycleMean | None, drying: Drying, humidity: HumidityTarget, uptime_s: float
) -> Wish | Drying:
    """Return the cycle under way, a new one begun where that is over, or why nothing dries."""
    driest_pct, limit_pct = air.lowest_humidity_pct, humidity.low_limit_pct
    if driest_pct <= limit_pct:
        return safe_off("humidity-low-limit", seen_pct=driest_pct, limit_pct=limit_pct)
    seen_pct = mean.humidity_pct if mean else None
    if mean is None or seen_pct is None:
        return off("averaging", left_s=mean.left_s(uptime_s) if mean else 0.0)
    if drying.began_uptime_s is not None and _into_s(drying, uptime_s) < CYCLE_S:
        return drying
    too_much_pct = seen_pct - humidity.setpoint_pct
    share_ratio = min(1.0, max(0.0, drying.share_ratio + MORE_PER_PCT * too_much_pct))
    on_s = CYCLE_S * min(1.0, max(0.0, share_ratio + AT_ONCE_PER_PCT * too_much_pct))
    if on_s < SHORTEST_S:
        on_s = 0.0
    elif on_s > CYCLE_S - SHORTEST_S:
        on_s = CYCLE_S
    return Drying(share_ratio=share_ratio, began_uptime_s=uptime_s, on_s=on_s)


def _into_s(drying: Drying, uptime_s: float) -> float:
    return uptime_s - (drying.began_uptime_s or 0.0)


def _rests(drying: Drying, uptime_s: float) -> Wish:
    return off("dried-this-cycle", left_s=CYCLE_S - _into_s(drying, uptime_s))
