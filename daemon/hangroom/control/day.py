"""A room's last day in hours: how much it was aired, how often each relay was switched."""

from collections.abc import Mapping
from dataclasses import dataclass

from hangroom.control.use import HOUR_S, RelayMemory, ran_in_the_hour_s, switches_since
from hangroom.terms import RelayKind

DAY_S = 24 * HOUR_S


@dataclass(frozen=True, slots=True, kw_only=True)
class HourOfUse:
    """One hour that is over, in monotonic seconds.

    `airing_ratio`: share of it that the exhaust fan ran; None without one, or where the air was
    not known all the time, because then the fan did not run as the room needed it.
    """

    ended_uptime_s: float
    airing_ratio: float | None
    switches: Mapping[RelayKind, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """The hour under way, since when (monotonic seconds), and those of the last day before it."""

    hour_began_uptime_s: float
    hours: tuple[HourOfUse, ...] = ()


def carried_on(
    day: Day,
    relays: Mapping[RelayKind, RelayMemory],
    *,
    seen_since_uptime_s: float | None,
    uptime_s: float,
) -> Day:
    """Return the day with the hour under way closed, if it is over.

    `seen_since_uptime_s`: since when the air has been known without a break, None while it is not.
    """
    if uptime_s - day.hour_began_uptime_s < HOUR_S:
        return day
    fan = relays.get(RelayKind.EXHAUST_FAN)
    seen = seen_since_uptime_s is not None and seen_since_uptime_s <= day.hour_began_uptime_s
    over = HourOfUse(
        ended_uptime_s=uptime_s,
        airing_ratio=round(ran_in_the_hour_s(fan, uptime_s=uptime_s) / HOUR_S, 4)
        if fan and seen
        else None,
        switches={
            kind: times
            for kind, memory in relays.items()
            if (times := switches_since(memory, day.hour_began_uptime_s))
        },
    )
    kept = [hour for hour in day.hours if hour.ended_uptime_s > uptime_s - DAY_S]
    return Day(hour_began_uptime_s=uptime_s, hours=(*kept, over))


def switches_in_the_day(
    day: Day, relays: Mapping[RelayKind, RelayMemory], *, uptime_s: float
) -> dict[RelayKind, int]:
    """Return how often each relay was switched in the last 23 to 24 hours."""
    hours = [hour for hour in day.hours if hour.ended_uptime_s > uptime_s - DAY_S + HOUR_S]
    return {
        kind: switches_since(memory, day.hour_began_uptime_s)
        + sum(hour.switches.get(kind, 0) for hour in hours)
        for kind, memory in relays.items()
    }
