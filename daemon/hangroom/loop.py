"""The loop: read, decide, act, note. The only place where decisions become moving contacts.

Relays first, bookkeeping second: whatever happens to the journal, the board or the database,
every relay has been told what to do before anything is written down. A closed relay is a loan of
a few ticks that the next tick renews, so that a loop that hangs lets go by itself.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import floor
from typing import Any

from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.board import live_outside, live_room
from hangroom.control.memory import RoomState, starting_state
from hangroom.control.outside import OUTSIDE
from hangroom.control.room import decide
from hangroom.control.snapshot import kept_as, off_for_s, restored, snapshot, stamped
from hangroom.ports import AirSensor, Clock, Journal, Relay
from hangroom.store.live import LiveBoard
from hangroom.terms import Command, RelayKind, RoomPlan
from hangroom.wired import Outside, RoomMemory, WiredRoom

TICK_S = 2.0
LOAN_TICKS = 3
FLUSH_EVERY_S = 60.0
CLOCK_JUMP = timedelta(seconds=30)
# Moments are sums of seconds: this share of a tick may be lost in their last digits.
ROUNDING_RATIO = 1e-6


@dataclass(slots=True, kw_only=True)
class _Grid:
    """The moments decisions are dated to: whole ticks after the start, however late a tick comes.

    So the journal can make every decision again from its readings, without the time of each tick.
    """

    start_s: float
    newest_s: float | None = None

    def moment_s(self, uptime_s: float) -> float:
        """Return the newest moment of the grid, in monotonic seconds; never before the last."""
        ticks = floor((uptime_s - self.start_s) / TICK_S + ROUNDING_RATIO)
        return round(self.start_s + ticks * TICK_S, 3)

    def missed_from_s(self, uptime_s: float) -> float | None:
        """Take the moment of this tick; return that of the last one where some lie between."""
        before_s, self.newest_s = self.newest_s, uptime_s
        if before_s is None or uptime_s - before_s <= TICK_S * (1 + ROUNDING_RATIO):
            return None
        return before_s


class Loop:
    """Runs every room, one tick after the other, until told to stop.

    `alarms` is told of every tick once the relays are. `plans_now` ends what is over, answers the
    page's requests and returns the plans that hold from the next tick on; it is given wall time
    and monotonic seconds. `show` publishes the live board, which it asks for where anybody looks.
    `alive` is called after each completed tick and feeds the watchdog. `clock_jumped` is called
    when the wall clock was moved. `kept`: what an earlier program kept, by name. `outside`: the
    sensors in the air outside.
    """

    def __init__(
        self,
        rooms: Mapping[str, WiredRoom],
        *,
        clock: Clock,
        journal: Journal,
        alarms: AlarmDesk,
        boot_id: str,
        version: str,
        plans_now: Callable[[Mapping[str, RoomPlan], datetime, float], Mapping[str, RoomPlan]],
        show: Callable[[Callable[[], LiveBoard]], None],
        alive: Callable[[], None],
        clock_jumped: Callable[[], None],
        kept: Mapping[str, Any] | None = None,
        outside: Mapping[str, AirSensor] | None = None,
    ) -> None:
        self._rooms = rooms
        self._outside = Outside(sensors=outside or {})
        self._clock = clock
        self._journal = journal
        self._alarms = alarms
        self._boot_id = boot_id
        self._version = version
        self._plans_now = plans_now
        self._show = show
        self._alive = alive
        self._clock_jumped = clock_jumped
        self._plans = {name: room.plan for name, room in rooms.items()}
        self._stopping = False
        uptime_s, now = round(clock.uptime_s(), 3), clock.now()
        self._grid = _Grid(start_s=uptime_s)
        journal.begin_ticks(start_uptime_s=uptime_s, tick_s=TICK_S)
        self._memory = {
            name: RoomMemory(
                state=self._remembered(plan, (kept or {}).get(kept_as(name)), now, uptime_s),
                noted={},
                since=dict.fromkeys(plan.relays, (now, uptime_s)),
                readings={},
                newest={},
            )
            for name, plan in self._plans.items()
        }
        self._wall_minus_uptime = now - timedelta(seconds=uptime_s)
        # Before any contact can close, so that a loop that dies at once again and again, and each
        # time has to take a start of every relay for granted, counts all of them.
        self._flush(now, uptime_s)

    def run(self) -> None:
        """Tick until `stop`; whatever ends it, every relay is opened on the way out."""
        try:
            while not self._stopping:
                self.tick()
                self._alive()
                self._clock.wait_until(self._grid.moment_s(self._clock.uptime_s()) + TICK_S)
        finally:
            self.open_all()

    def stop(self) -> None:
        """Let the tick in progress finish, then end `run`."""
        self._stopping = True

    def open_all(self) -> None:
        """Open every relay, now. Safe to call twice; never raises."""
        for room in self._rooms.values():
            for relay in room.relays.values():
                relay.open()

    def tick(self) -> None:
        """Do one round: all rooms read, decided and acted on; then notes, board, requests."""
        for name, room in self._rooms.items():
            self._memory[name].readings = {
                sensor_name: sensor.latest() for sensor_name, sensor in room.sensors.items()
            }
        self._outside.readings = {
            name: sensor.latest() for name, sensor in self._outside.sensors.items()
        }
        uptime_s = self._grid.moment_s(self._clock.uptime_s())
        missed_from_s = self._grid.missed_from_s(uptime_s)
        outside = self._outside.look(uptime_s)
        for name, room in self._rooms.items():
            memory = self._memory[name]
            decision = memory.decided(self._plans[name], outside, uptime_s=uptime_s)
            _act(decision.commands, room.relays, until_s=uptime_s + LOAN_TICKS * TICK_S)
        now = self._clock.now()
        if missed_from_s is not None:
            self._journal.note_missed_ticks(after_uptime_s=missed_from_s, next_uptime_s=uptime_s)
        jump_s = self._clock_jump_s(now, self._clock.uptime_s())
        self._note_sensors(
            OUTSIDE, self._outside.sensors, self._outside, now=now, uptime_s=uptime_s
        )
        for name, room in self._rooms.items():
            self._note(name, room, now, uptime_s)
        self._alarms.after_a_tick(
            self._plans,
            {name: memory.decision for name, memory in self._memory.items() if memory.decision},
            now=now,
            uptime_s=uptime_s,
            clock_jump_s=jump_s,
        )
        due = uptime_s - self._flushed_uptime_s >= FLUSH_EVERY_S
        if due or self._alarms.flush_is_urgent:
            self._flush(now, uptime_s)
        self._plans = dict(self._plans_now(self._plans, now, uptime_s))
        self._show(lambda: self._board(now, self._clock.uptime_s()))

    def foreseen(self, plan: RoomPlan) -> tuple[Command, ...]:
        """Return what a room's relays would be told now by another plan; nothing is done."""
        memory = self._memory[plan.name]
        return decide(
            memory.state,
            plan,
            memory.readings,
            uptime_s=self._grid.newest_s or self._grid.start_s,
            outside=memory.decision.outside if memory.decision else None,
        ).commands

    def keep_memory(self) -> None:
        """Hand over to the journal what the next program has to know, where it has changed."""
        now, uptime_s = self._clock.now(), round(self._clock.uptime_s(), 3)
        for name, memory in self._memory.items():
            taken = snapshot(memory.state, uptime_s=uptime_s)
            if taken != memory.kept:
                memory.kept = taken
                body = stamped(taken, boot_id=self._boot_id, now=now, uptime_s=uptime_s)
                self._journal.keep(kept_as(name), body)
        self._alarms.keep_memory(now=now, uptime_s=uptime_s)

    def _flush(self, now: datetime, uptime_s: float) -> None:
        self.keep_memory()
        self._alarms.flushed(written=self._journal.flush(now=now), uptime_s=uptime_s)
        self._flushed_uptime_s = uptime_s

    def _remembered(
        self,
        plan: RoomPlan,
        kept: Any,  # noqa: ANN401 - whatever JSON can be
        now: datetime,
        uptime_s: float,
    ) -> RoomState:
        if kept is None:
            return starting_state(plan, uptime_s=uptime_s)
        gap_s = off_for_s(kept, boot_id=self._boot_id, now=now, uptime_s=uptime_s)
        self._journal.note_start(plan.name, kept, gap_s=gap_s)
        state, fault = restored(kept, plan, gap_s=gap_s, uptime_s=uptime_s)
        if fault is not None:
            why = {"why": fault}
            self._journal.note_event(
                "memory-forgotten", now=now, figures={}, room=plan.name, words=why
            )
        return state

    def _note(self, name: str, room: WiredRoom, now: datetime, uptime_s: float) -> None:
        memory = self._memory[name]
        plan = self._plans[name]
        if plan != memory.noted_plan:
            self._journal.note_plan(name, plan, uptime_s=uptime_s)
            memory.noted_plan = plan
        self._note_sensors(name, room.sensors, memory, now=now, uptime_s=uptime_s)
        for command in memory.decision.commands if memory.decision else ():
            told = (command.closed, command.because.code)
            before = memory.noted.get(command.relay)
            if told != before:
                self._journal.note_command(name, command, now=now, uptime_s=uptime_s)
                memory.noted[command.relay] = told
                if before is not None and before[0] != command.closed:
                    memory.since[command.relay] = (now, uptime_s)

    def _note_sensors(
        self,
        place: str,
        sensors: Mapping[str, AirSensor],
        seen: RoomMemory | Outside,
        *,
        now: datetime,
        uptime_s: float,
    ) -> None:
        for name, sensor in sensors.items():
            reading = seen.readings[name]
            if reading is not None and reading is not seen.newest.get(name):
                seen.newest[name] = reading
                self._journal.note_reading(place, name, reading, seen_uptime_s=uptime_s)
            self._journal.note_faults(place, name, sensor.faults(), now=now)

    def _clock_jump_s(self, now: datetime, uptime_s: float) -> float | None:
        """Return how far the wall clock was moved since the last tick, None where it was not."""
        wall_minus_uptime = now - timedelta(seconds=uptime_s)
        jump = wall_minus_uptime - self._wall_minus_uptime
        self._wall_minus_uptime = wall_minus_uptime
        if abs(jump) <= CLOCK_JUMP:
            return None
        jump_s = jump.total_seconds()
        self._journal.note_event("clock-jump", now=now, figures={"jump_s": jump_s})
        self._clock_jumped()
        return jump_s

    def _board(self, now: datetime, uptime_s: float) -> LiveBoard:
        def wall_time(moment_s: float) -> datetime:
            return now + timedelta(seconds=moment_s - uptime_s)

        return LiveBoard(
            boot_id=self._boot_id,
            version=self._version,
            written_at=now,
            uptime_s=uptime_s,
            tick_s=TICK_S,
            unwritten_rows=self._journal.unwritten_rows,
            rooms={
                name: live_room(
                    self._plans[name],
                    room,
                    self._memory[name],
                    alarms=self._alarms.of_room(name),
                    inspection_ends_uptime_s=self._alarms.inspection_ends_uptime_s(name),
                    wall_time=wall_time,
                    uptime_s=self._grid.newest_s or uptime_s,
                )
                for name, room in self._rooms.items()
            },
            alarms=self._alarms.beside_rooms(),
            outside=live_outside(memory.decision for memory in self._memory.values()),
            bell=self._alarms.bell(),
        )


def _act(commands: Sequence[Command], relays: Mapping[RelayKind, Relay], *, until_s: float) -> None:
    # Contacts open before others close, so that no two of a pair meet even for a moment.
    for command in commands:
        if not command.closed:
            relays[command.relay].open()
    for command in commands:
        if command.closed:
            relays[command.relay].hold_closed(until_uptime_s=until_s)
