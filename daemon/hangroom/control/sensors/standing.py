"""A sensor's standing: how it loses trust and how it regains it.

A single odd reading is left out and forgotten. Several in a row, or an element that is stuck, cost
the sensor its trust, which only a while of good readings gives back. One that is odd again and
again is gone by as long as the rest is good, because blindness would be worse; but it is told.
"""

from dataclasses import dataclass, replace

from hangroom.terms import Because

# So many odd readings in a row are no accident: wrong frames whose checksum is right come about
# once in 500 to 1000 reads (adafruit/Adafruit_Python_DHT, issue 14), and an opened door makes one
# jump or two.
ODD_IN_A_ROW = 3

# Our judgement.
REGAINED_AFTER_S = 300.0

# A healthy sensor read every 6 s has one such frame in an hour. Our judgement.
ERRATIC_FROM = 10
ERRATIC_WITHIN_S = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Whether trust is lost; how many odd readings came in a row up to now.

    `good_since_uptime_s`: of a sensor that lost trust, since when it has been good again.
    `odd_uptime_s`: when the newest odd readings were taken, as many as make a sensor erratic.
    """

    lost: bool = False
    odd_in_a_row: int = 0
    good_since_uptime_s: float | None = None
    odd_uptime_s: tuple[float, ...] = ()


UNKNOWN = Standing()


def after_an_odd_one(before: Standing, *, taken_uptime_s: float) -> Standing:
    """Return the standing after a reading that was left out."""
    odd_in_a_row = before.odd_in_a_row + 1
    return Standing(
        lost=before.lost or odd_in_a_row >= ODD_IN_A_ROW,
        odd_in_a_row=odd_in_a_row,
        odd_uptime_s=(*before.odd_uptime_s, taken_uptime_s)[-ERRATIC_FROM:],
    )


def after_a_stuck_one(before: Standing) -> Standing:
    """Return the standing of a sensor whose element is stuck."""
    return Standing(lost=True, odd_uptime_s=before.odd_uptime_s)


def after_a_good_one(before: Standing, *, taken_uptime_s: float, unbroken: bool) -> Standing:
    """Return the standing after a good reading.

    `unbroken`: whether it follows the reading before it without a silence in between.
    """
    if not before.lost:
        return replace(before, odd_in_a_row=0) if before.odd_in_a_row else before
    since_s = before.good_since_uptime_s
    if since_s is None or not unbroken:
        since_s = taken_uptime_s
    if taken_uptime_s - since_s >= REGAINED_AFTER_S:
        return Standing(odd_uptime_s=before.odd_uptime_s)
    return replace(before, odd_in_a_row=0, good_since_uptime_s=since_s)


def erratic(standing: Standing, *, taken_uptime_s: float) -> Because | None:
    """Say that too many of the readings up to this one were odd, or None."""
    odd_s = standing.odd_uptime_s
    if len(odd_s) < ERRATIC_FROM or taken_uptime_s - odd_s[0] > ERRATIC_WITHIN_S:
        return None
    return Because("erratic-readings", {"within_s": odd_s[-1] - odd_s[0]})


def regaining(standing: Standing, *, taken_uptime_s: float) -> Because | None:
    """Say how long good readings must go on, or None where the sensor is trusted."""
    if standing.good_since_uptime_s is None:
        return None
    left_s = REGAINED_AFTER_S - (taken_uptime_s - standing.good_since_uptime_s)
    return Because("regaining-trust", {"left_s": left_s})
