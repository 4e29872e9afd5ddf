"""What the desk remembers of one room: when it is due, and what the plant watch has seen."""

from collections.abc import Container, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from hangroom.alarm_table.log import of_room
from hangroom.control.alarms.bank import Conditions
from hangroom.control.alarms.conditions import (
    RoomSeen,
    room_conditions,
)
from hangroom.control.day import switches_in_the_day
from hangroom.control.plant_watch.snapshot import restored, snapshot
from hangroom.control.plant_watch.trace import AirSeen
from hangroom.control.plant_watch.watch import Findings, Memory, Seen, starting_memory, watched
from hangroom.control.room import Decision
from hangroom.control.sensors.judged import UNJUDGED, Judged
from hangroom.control.sensors.voting import Air
from hangroom.control.snapshot import off_for_s, stamped
from hangroom.control.use import HOUR_S, refused_in_the_hour, switches_since
from hangroom.stage_table import FOLLOWS_HUMIDITY, FOLLOWS_TEMPERATURE
from hangroom.terms import AirReading, RelayKind, RoomPlan, Stage

LOOK_EVERY_S = 10.0

# What moves which quantity: where one of these is only watched, its setpoint is not judged.
MOVES_HUMIDITY = frozenset({RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN})
MOVES_TEMPERATURE = frozenset({RelayKind.COOLING, RelayKind.HEATER})


def plant_kept_as(room: str) -> str:
    """Return the name under which the journal keeps what the plant watch learned of a room."""
    return f"plant of {room}"


NOTHING_YET = Findings(raw={}, door_open=False)


@dataclass(slots=True, kw_only=True)
class RoomWatch:
    """One room from tick to tick; changed in place by the desk alone.

    `due_s`: when it is looked at next whatever happens.
    """

    scope: str
    started_s: float
    due_s: float
    plant: Memory
    found: Findings = NOTHING_YET
    plan: RoomPlan | None = None
    sensors: Judged = UNJUDGED
    sighted: bool = False
    closed: tuple[bool, ...] = ()
    kept: Mapping[str, Any] | None = None
    forgot: str | None = None

    @classmethod
    def begun(
        cls,
        room: str,
        kept: Any,  # noqa: ANN401 - whatever JSON can be
        *,
        boot_id: str,
        now: datetime,
        uptime_s: float,
    ) -> "RoomWatch":
        """Return the watch of a room as a program begins; `kept`: what the one before it kept."""
        plant, forgot = starting_memory(uptime_s=uptime_s), None
        if kept is not None:
            gap_s = off_for_s(kept, boot_id=boot_id, now=now, uptime_s=uptime_s)
            plant, forgot = _restored(kept, gap_s=gap_s, uptime_s=uptime_s)
        return cls(
            scope=of_room(room), started_s=uptime_s, due_s=uptime_s, plant=plant, forgot=forgot
        )

    def changed_memory(
        self, *, boot_id: str, now: datetime, uptime_s: float
    ) -> dict[str, Any] | None:
        """Return what the next program has to know of the plant, None where that is kept."""
        taken = snapshot(self.plant)
        if taken == self.kept:
            return None
        self.kept = taken
        return stamped(taken, boot_id=boot_id, now=now, uptime_s=uptime_s)

    def is_due(self, plan: RoomPlan, decision: Decision, *, uptime_s: float) -> bool:
        """Whether to look: the time has come, or an alarm may turn at once."""
        sighted = isinstance(decision.air, Air)
        return uptime_s >= self.due_s or plan is not self.plan or sighted != self.sighted

    def newly_asked(self, plan: RoomPlan) -> bool:
        """Whether a person or a stage has come to ask for other air since the last look."""
        return self.plan is not None and _asked(plan) != _asked(self.plan)

    def show_the_plant_watch(self, plan: RoomPlan, decision: Decision, *, uptime_s: float) -> None:
        """Let the plant watch see this tick, unless there is nothing new in it."""
        closed = tuple([command.closed for command in decision.commands])
        sensors = decision.state.sensors
        if sensors is self.sensors and closed == self.closed:
            return
        self.sensors, self.closed = sensors, closed
        seen = Seen(
            stage=plan.stage,
            relays={command.relay: command.closed for command in decision.commands},
            air=_air_seen(decision),
            outside=_outside_seen(plan, decision, uptime_s),
            humidity=plan.humidity if _moves(plan, FOLLOWS_HUMIDITY, MOVES_HUMIDITY) else None,
            temperature=(
                plan.temperature if _moves(plan, FOLLOWS_TEMPERATURE, MOVES_TEMPERATURE) else None
            ),
            uptime_s=uptime_s,
        )
        self.plant, self.found = watched(self.plant, seen)

    def looked(self, plan: RoomPlan, decision: Decision, *, uptime_s: float) -> Conditions:
        """Return the room's raw conditions; the next look is due in a while."""
        self.due_s = uptime_s + LOOK_EVERY_S
        self.plan, self.sighted = plan, isinstance(decision.air, Air)
        relays, day = decision.state.relays, decision.state.day
        seen = RoomSeen(
            plan=plan,
            sensors=decision.state.sensors,
            running_s=uptime_s - self.started_s,
            switches_last_hour={
                relay: switches_since(memory, uptime_s - HOUR_S) for relay, memory in relays.items()
            },
            switches_last_day=switches_in_the_day(day, relays, uptime_s=uptime_s),
            refused_last_hour=(
                refused_in_the_hour(relays[RelayKind.COOLING], uptime_s=uptime_s)
                if RelayKind.COOLING in relays
                else 0
            ),
            locked_out=frozenset(
                relay for relay, memory in relays.items() if memory.locked_uptime_s is not None
            ),
            cycle=decision.state.mean,
        )
        of_air = room_conditions(seen)
        return Conditions(
            raw={**of_air.raw, **self.found.raw},
            blind=of_air.blind,
            door_open=self.found.door_open,
        )


def _restored(
    kept: Any,  # noqa: ANN401 - whatever JSON can be
    *,
    gap_s: float,
    uptime_s: float,
) -> tuple[Memory, str | None]:
    match kept:
        case {"room": room, "uptime_s": float(saved_s) | int(saved_s)}:
            return restored(room, saved_uptime_s=saved_s, gap_s=gap_s, uptime_s=uptime_s)
        case _:
            return starting_memory(uptime_s=uptime_s), "no snapshot of a plant watch"


def _air_seen(decision: Decision) -> AirSeen | None:
    if not isinstance(decision.air, Air):
        return None
    taken = [v.taken_uptime_s for v in decision.verdicts.values() if isinstance(v, AirReading)]
    return AirSeen(
        temperature_c=decision.air.temperature_c,
        humidity_pct=decision.air.humidity_pct,
        taken_uptime_s=max(taken),
    )


def _outside_seen(plan: RoomPlan, decision: Decision, uptime_s: float) -> AirSeen | None:
    """Return the air outside where it is measured: by an estimate no fan can be said to fail."""
    outside = decision.outside
    if outside is None or outside is plan.outside_estimate:
        return None
    return AirSeen(
        temperature_c=outside.temperature_c,
        humidity_pct=outside.humidity_pct,
        taken_uptime_s=uptime_s,
    )


def _moves(plan: RoomPlan, follows: Container[Stage], moved_by: frozenset[RelayKind]) -> bool:
    """Return whether a setpoint is followed, by the stage and by relays that are proved."""
    return plan.stage in follows and not moved_by & plan.unproved


def _asked(plan: RoomPlan) -> tuple[object, ...]:
    """Return what a person or a stage asks of a room's air."""
    return plan.stage, plan.humidity, plan.temperature
