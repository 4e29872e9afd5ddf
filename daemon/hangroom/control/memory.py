"""What control remembers from one tick to the next."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from hangroom.control.blind import Sight
from hangroom.control.cycle_drying import Drying
from hangroom.control.cycle_mean import CycleMean
from hangroom.control.day import Day
from hangroom.control.dosing import DoseMemory
from hangroom.control.sensors.judged import UNJUDGED, Judged
from hangroom.control.use import RelayMemory
from hangroom.terms import RelayKind, RoomPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomState:
    """One room's memory; replaced, never changed.

    `doses`: what the dosing relays have learned. `trusted_once`: whether any reading could be
    trusted since the start; before that nothing closes. `day`: how the room was used in the last
    day. `sight`: whether the air is known, and since when. `sensors`: how far each is trusted.
    `mean`: a cooled room's humidity over its compressor's cycle. `drying`: what its relays have
    learned that dry it.
    """

    relays: Mapping[RelayKind, RelayMemory]
    doses: Mapping[RelayKind, DoseMemory]
    trusted_once: bool
    day: Day
    sight: Sight
    sensors: Judged = UNJUDGED
    mean: CycleMean | None = None
    drying: Mapping[RelayKind, Drying] = field(default_factory=dict)


def works_in_doses(relay: RelayKind, plan: RoomPlan) -> bool:
    """Whether a relay gives doses in this room."""
    return relay is RelayKind.HUMIDIFIER or (
        relay is RelayKind.EXHAUST_FAN and RelayKind.COOLING not in plan.relays
    )


def starting_state(plan: RoomPlan, *, uptime_s: float) -> RoomState:
    """Return the memory of a program that has just opened every relay.

    When a relay was last switched before is not known, so every rest counts from now. That is
    what keeps a minimum off time, a compressor's above all, across crashes and power cuts.
    """
    opened = RelayMemory(closed=False, changed_uptime_s=uptime_s)
    return RoomState(
        relays=dict.fromkeys(plan.relays, opened),
        doses={kind: DoseMemory() for kind in plan.relays if works_in_doses(kind, plan)},
        trusted_once=False,
        day=Day(hour_began_uptime_s=uptime_s),
        sight=Sight(known=False, since_uptime_s=uptime_s),
    )
