"""What the relays of a room may have done to its air, as far as a sensor's doubts go."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf

from hangroom.control.use import RelayMemory

# How long after a relay was switched its effect may still arrive. In simulation the sensor shows
# most of a pulse of mist after 52 s.
JUST_SWITCHED_S = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """Whether any relay of the room is on, and when one was last switched (monotonic seconds)."""

    any_on: bool
    switched_uptime_s: float

    def explain(self, taken_uptime_s: float) -> bool:
        """Whether a relay may have moved what was measured at that monotonic second."""
        return self.any_on or taken_uptime_s - self.switched_uptime_s < JUST_SWITCHED_S


def surroundings_of(relays: Iterable[RelayMemory]) -> Surroundings:
    """Return what the relays of a room, as they are, may have done."""
    any_on, switched_uptime_s = False, -inf
    for relay in relays:
        any_on = any_on or relay.closed
        switched_uptime_s = max(switched_uptime_s, relay.changed_uptime_s)
    return Surroundings(any_on=any_on, switched_uptime_s=switched_uptime_s)
