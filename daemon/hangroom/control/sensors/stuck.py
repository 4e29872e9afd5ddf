"""Elements that stay where they are: wet ones at the top of the scale, frozen ones anywhere."""

from dataclasses import dataclass

from hangroom.terms import AirReading, Because

# A wet element dries or does not; a passing mist is gone sooner. Our judgement. Until it is told
# the room's hard limit, far below, keeps the humidifier off.
WET_FROM_PCT = 99.5
WET_AFTER_S = 1800.0

# A healthy sensor's noise alone moves its last digit now and then, and a relay that was switched
# moves the air; without any, the room itself does in some hours. Our judgement.
FROZEN_AFTER_S = 7200.0
FROZEN_ANYWAY_AFTER_S = 21_600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Still:
    """Since when a sensor has not moved, in monotonic seconds.

    `same_since_uptime_s`: both values. `wet_since_uptime_s`: at the top, or None.
    """

    same_since_uptime_s: float
    wet_since_uptime_s: float | None


def watched(still: Still | None, newest: AirReading | None, reading: AirReading) -> Still:
    """Return what is known after one more reading; `newest` is the one before it."""
    same_since_s = reading.taken_uptime_s
    wet_since_s = reading.taken_uptime_s if reading.humidity_pct >= WET_FROM_PCT else None
    if still is not None and newest is not None:
        if (
            newest.humidity_pct == reading.humidity_pct
            and newest.temperature_c == reading.temperature_c
        ):
            same_since_s = still.same_since_uptime_s
        if wet_since_s is not None and still.wet_since_uptime_s is not None:
            wet_since_s = still.wet_since_uptime_s
    return Still(same_since_uptime_s=same_since_s, wet_since_uptime_s=wet_since_s)


def stuck(still: Still, *, taken_uptime_s: float, switched_uptime_s: float) -> Because | None:
    """Say that a sensor is stuck, as of its newest reading, or None.

    `switched_uptime_s`: when a relay of the room was last switched.
    """
    wet_since_s = still.wet_since_uptime_s
    if wet_since_s is not None and taken_uptime_s - wet_since_s >= WET_AFTER_S:
        return Because("wet-element", {"lasted_s": taken_uptime_s - wet_since_s})
    same_s = taken_uptime_s - still.same_since_uptime_s
    switched = switched_uptime_s > still.same_since_uptime_s
    if same_s >= (FROZEN_AFTER_S if switched else FROZEN_ANYWAY_AFTER_S):
        return Because("frozen-reading", {"lasted_s": same_s})
    return None
