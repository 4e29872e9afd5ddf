"""The exhaust fan of a room whose air is not known: as much as it usually runs, within limits.

Over-drying cannot be undone and comes within a day where a fan runs on; wet, still air grows mould
within days. A small share of the time lies between: in simulated rooms 6 minutes an hour kept wet
and dry loads near normal for a day. Everything else that acts on the air is off.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from hangroom.control.day import DAY_S, HourOfUse
from hangroom.control.wish import Wish, blind_off, on, safe_off
from hangroom.terms import Because

# Judged by simulation, not in a real room: shares of the time, and for how long they do little
# harm. After it a room without a sensor is better left alone.
USUAL_AIRING_RATIO = (0.03, 0.15)
UNKNOWN_AIRING_RATIO = 0.10
AIRS_BLIND_FOR_S = DAY_S

# Fewer hours than this tell nothing of what the room needs. Our judgement.
FEWEST_HOURS = 6

# The share of an hour is given in two parts; each at the end of its half hour, so that a sensor
# that is back soon has moved nothing.
CYCLE_S = 1800.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Sight:
    """Whether the air is known, and since when (monotonic seconds).

    `airing_ratio`: share of the time the exhaust fan runs while it is not.
    """

    known: bool
    since_uptime_s: float
    airing_ratio: float = UNKNOWN_AIRING_RATIO


def looked(sight: Sight, hours: Sequence[HourOfUse], *, known: bool, uptime_s: float) -> Sight:
    """Return the sight after one look; `hours`: the last day, from which blindness learns once."""
    if known == sight.known:
        return sight
    return Sight(known=known, since_uptime_s=uptime_s, airing_ratio=usual_airing_ratio(hours))


def usual_airing_ratio(hours: Sequence[HourOfUse]) -> float:
    """Return the share of the time an exhaust fan may run blindly, from the hours of a day."""
    known = [hour.airing_ratio for hour in hours if hour.airing_ratio is not None]
    if len(known) < FEWEST_HOURS:
        return UNKNOWN_AIRING_RATIO
    least_ratio, most_ratio = USUAL_AIRING_RATIO
    return min(most_ratio, max(least_ratio, median(known)))


def blind_airing_wish(
    because: Because, sight: Sight, *, trusted_once: bool, uptime_s: float
) -> Wish:
    """Return what the exhaust fan should do while the air is not known, for the reason it is not.

    Off before the first trusted reading of this run, and after a day.
    """
    if not trusted_once:
        return blind_off(because)
    blind_s = uptime_s - sight.since_uptime_s
    if blind_s >= AIRS_BLIND_FOR_S:
        return safe_off("blind-for-long", blind_s=blind_s)
    left_s = CYCLE_S - blind_s % CYCLE_S
    if left_s > sight.airing_ratio * CYCLE_S:
        return blind_off(because)
    return on("blind-airing", left_s=left_s)
