"""From a measured figure to a condition: limit, deadband, on-delay, off-delay.

The deadband comes first, the delays after it: once past its limit a figure counts as past it until
it has come back by the whole deadband, and only what lasts for the delay moves the condition. So
neither noise at the limit nor an opened door makes an alarm.

A missing figure moves nothing towards normal. While it is missing neither delay can run out; the
on-delay keeps its start, the off-delay begins again with the first good figure.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from math import isfinite


class Side(StrEnum):
    """On which side of its limit something lies."""

    BEYOND = "beyond"
    DEADBAND = "deadband"
    WITHIN = "within"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Raw:
    """A raw condition, before its delays: the side of the limit, and what to tell it with.

    Figure names end in their SI unit, as in `hangroom.terms.Because`. `why`: a code for what
    brings it about, where that is known.
    """

    side: Side
    figures: Mapping[str, float] = field(default_factory=dict)
    why: str = ""


@dataclass(frozen=True, slots=True)
class Delayed:
    """A condition after its delays.

    `turning_since_uptime_s`: since when the other side of the limit has been seen, or None.
    """

    active: bool = False
    turning_since_uptime_s: float | None = None


def above(seen: float | None, *, limit: float, deadband: float = 0.0) -> Side:
    """Return where a figure lies that must stay below a limit; all in one unit, whichever."""
    if seen is None or not isfinite(seen - limit):
        return Side.UNKNOWN
    if seen >= limit:
        return Side.BEYOND
    return Side.DEADBAND if seen > limit - deadband else Side.WITHIN


def below(seen: float | None, *, limit: float, deadband: float = 0.0) -> Side:
    """Return where a figure lies that must stay above a limit; all in one unit, whichever."""
    return above(None if seen is None else -seen, limit=-limit, deadband=deadband)


def whether(*, holds: bool | None) -> Side:
    """Return the side of a condition that just holds or does not, or None if it is not known."""
    if holds is None:
        return Side.UNKNOWN
    return Side.BEYOND if holds else Side.WITHIN


def delayed(
    before: Delayed, side: Side, *, on_delay_s: float, off_delay_s: float, uptime_s: float
) -> Delayed:
    """Return the condition after one more look at monotonic second `uptime_s`."""
    turns, stays = (Side.WITHIN, Side.BEYOND) if before.active else (Side.BEYOND, Side.WITHIN)
    since_s = before.turning_since_uptime_s
    if side is stays or (side is Side.UNKNOWN and before.active):
        return before if since_s is None else Delayed(active=before.active)
    if side is Side.UNKNOWN:
        return before
    if since_s is None:
        if side is not turns:
            return before
        since_s = uptime_s
    if uptime_s - since_s >= (off_delay_s if before.active else on_delay_s):
        return Delayed(active=not before.active)
    return Delayed(active=before.active, turning_since_uptime_s=since_s)
