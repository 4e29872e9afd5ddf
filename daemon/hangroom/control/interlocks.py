"""Which relays must never be closed together, as a table.

An interlock only ever keeps an open relay from closing: whichever of a pair runs already is let
finish, so that no minimum run is cut short. Since every relay starts open, no pair can meet.
"""

from collections.abc import Mapping

from hangroom.control.use import RelayMemory
from hangroom.control.wish import Wish, off
from hangroom.terms import RelayKind

# Where both of a pair want to start at once, the first has the say.
NEVER_TOGETHER = (
    (RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN),
    (RelayKind.COOLING, RelayKind.HEATER),
)

# Neither of these starts while the other's last dose is still on its way to the sensor.
DOSED_AGAINST = ((RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN),)

WAITS_FOR = {
    RelayKind.HUMIDIFIER: "waits-for-humidifier",
    RelayKind.EXHAUST_FAN: "waits-for-airing",
    RelayKind.COOLING: "waits-for-cooling",
    RelayKind.HEATER: "waits-for-heater",
}


def interlocked(
    wishes: Mapping[RelayKind, Wish],
    relays: Mapping[RelayKind, RelayMemory],
    *,
    uptime_s: float,
    settle_s: float,
    reheats: bool,
) -> dict[RelayKind, Wish]:
    """Return the wishes with every start that would meet its opposite held back.

    `settle_s`: how long after a dose of either kind its opposite may not start, in seconds.
    `reheats`: the heater does nothing but warm what cooling has dried, so those two may meet.
    """
    settled = dict(wishes)
    for first, second in NEVER_TOGETHER:
        if reheats and second is RelayKind.HEATER:
            continue
        if first not in settled or second not in settled:
            continue
        if relays[second].closed and settled[second].closed:
            _hold_back(first, second, settled)
        elif settled[first].closed:
            _hold_back(second, first, settled)
    for first, second in DOSED_AGAINST:
        if first in settled and second in settled:
            _let_settle(first, relays[second], settled, uptime_s=uptime_s, settle_s=settle_s)
            _let_settle(second, relays[first], settled, uptime_s=uptime_s, settle_s=settle_s)
    return settled


def _hold_back(this: RelayKind, runs_already: RelayKind, settled: dict[RelayKind, Wish]) -> None:
    if settled[this].closed:
        settled[this] = off(WAITS_FOR[runs_already])


def _let_settle(
    this: RelayKind,
    other: RelayMemory,
    settled: dict[RelayKind, Wish],
    *,
    uptime_s: float,
    settle_s: float,
) -> None:
    # Still closed here means that its dose ends in this very tick.
    ended_s_ago = 0.0 if other.closed else uptime_s - other.changed_uptime_s
    left_s = settle_s - ended_s_ago
    if settled[this].closed and left_s > 0:
        settled[this] = off("settling", left_s=left_s)
