"""Jumps: a reading so far from the last good one that the room's air cannot have moved there."""

from hangroom.control.sensors.surroundings import Surroundings
from hangroom.terms import AirReading, Because

# More than this within 10 s, or the like over a longer gap, is not the air's doing while no relay
# is on. An opened door can do it all the same, and so the next reading decides.
JUMP_PCT = 15.0
JUMP_C = 3.0
JUMP_WITHIN_S = 10.0


def jump(
    reading: AirReading,
    *,
    good: AirReading | None,
    unconfirmed: AirReading | None,
    surroundings: Surroundings,
    expires_s: float,
) -> Because | None:
    """Say from where to where a reading jumped with nothing to explain it, or None.

    `good`: the last good reading; once it has expired nothing is known of where the air was.
    `unconfirmed`: the reading right before this one, where that one jumped; near it, this one
    confirms that the air did move.
    """
    if good is None or reading.taken_uptime_s - good.taken_uptime_s > expires_s:
        return None
    far_pct, far_c = _far(good, reading)
    if not (far_pct or far_c) or surroundings.explain(reading.taken_uptime_s):
        return None
    if unconfirmed is not None and not any(_far(unconfirmed, reading)):
        return None
    if far_pct:
        return Because("jumped", {"from_pct": good.humidity_pct, "to_pct": reading.humidity_pct})
    return Because(
        "temperature-jumped", {"from_c": good.temperature_c, "to_c": reading.temperature_c}
    )


def _far(earlier: AirReading, later: AirReading) -> tuple[bool, bool]:
    """Whether two readings lie farther apart than a jump: in humidity, in temperature."""
    gap_s = abs(later.taken_uptime_s - earlier.taken_uptime_s)
    gap_ratio = max(1.0, gap_s / JUMP_WITHIN_S)
    return (
        abs(later.humidity_pct - earlier.humidity_pct) > JUMP_PCT * gap_ratio,
        abs(later.temperature_c - earlier.temperature_c) > JUMP_C * gap_ratio,
    )
