"""What control remembers from one tick to the next."""

from collections.abc import Mapping
from dataclasses import dataclass

from hangroom.control.dosing import DoseMemory, first_dose
from hangroom.terms import RelayKind, RoomPlan

# The relays that work in doses; the others run until a threshold is reached.
DOSING = frozenset({RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN})


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayMemory:
    """A relay's position and when it was last switched, in monotonic seconds."""

    closed: bool
    changed_uptime_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomState:
    """One room's memory; replaced, never changed.

    `doses`: what the dosing relays have learned. `trusted_once`: whether any reading could be
    trusted since the start; before that nothing closes.
    """

    relays: Mapping[RelayKind, RelayMemory]
    doses: Mapping[RelayKind, DoseMemory]
    trusted_once: bool


def starting_state(plan: RoomPlan, *, uptime_s: float) -> RoomState:
    """Return the memory of a program that has just opened every relay.

    When a relay was last switched before is not known, so every rest counts from now. That is
    what keeps a minimum off time, a compressor's above all, across crashes and power cuts.
    """
    opened = RelayMemory(closed=False, changed_uptime_s=uptime_s)
    return RoomState(
        relays=dict.fromkeys(plan.relays, opened),
        doses={kind: first_dose(rules) for kind, rules in plan.relays.items() if kind in DOSING},
        trusted_once=False,
    )
