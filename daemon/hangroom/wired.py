"""What the loop runs: the rooms as they are wired, and what it remembers of each between ticks."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from hangroom.control.memory import RoomState
from hangroom.control.outside import air_outside, judged_outside
from hangroom.control.room import Decision, decide, followed
from hangroom.control.sensors.judged import UNJUDGED, Judged
from hangroom.ports import AirSensor, Relay
from hangroom.terms import AirOutside, AirReading, RelayKind, RoomPlan


@dataclass(frozen=True, slots=True, kw_only=True)
class WiredRoom:
    """A room's plan with the sensors and relays that stand for it, real or simulated."""

    plan: RoomPlan
    sensors: Mapping[str, AirSensor]
    read_every_s: Mapping[str, float]
    relays: Mapping[RelayKind, Relay]


@dataclass(slots=True, kw_only=True)
class Outside:
    """The sensors outside, what they last said and what that is worth."""

    sensors: Mapping[str, AirSensor]
    readings: dict[str, AirReading | None] = field(default_factory=dict)
    newest: dict[str, AirReading] = field(default_factory=dict)
    judged: Judged = UNJUDGED

    def look(self, uptime_s: float) -> AirOutside | None:
        """Return the air outside, None where it is not known."""
        self.judged = judged_outside(self.judged, self.readings, uptime_s=uptime_s)
        return air_outside(self.judged)


@dataclass(slots=True, kw_only=True)
class RoomMemory:
    """What the loop itself remembers of a room between ticks."""

    state: RoomState
    noted: dict[RelayKind, tuple[bool, str]]
    since: dict[RelayKind, tuple[datetime, float]]
    readings: dict[str, AirReading | None]
    newest: dict[str, AirReading]
    kept: Mapping[str, Any] | None = None
    decision: Decision | None = None
    noted_plan: RoomPlan | None = None

    def decided(self, plan: RoomPlan, outside: AirOutside | None, *, uptime_s: float) -> Decision:
        """Decide on the newest readings, and remember what came of it."""
        if self.decision is None:
            decision = decide(self.state, plan, self.readings, uptime_s=uptime_s, outside=outside)
        else:
            decision = followed(
                self.decision, plan, self.readings, uptime_s=uptime_s, outside=outside
            )
        self.decision, self.state = decision, decision.state
        return decision
