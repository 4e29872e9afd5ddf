"""The loop: read, decide, act, note. The only place where decisions become moving contacts.

Relays first, bookkeeping second: whatever happens to the journal, the board or the database,
every relay has been told what to do before anything is written down. A closed relay is a loan of
a few ticks that the next tick renews, so that a loop that hangs lets go by itself.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import floor

from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import Decision, decide
from hangroom.ports import AirSensor, Clock, Journal, Relay
from hangroom.store.live import LiveBoard, LiveRelay, LiveRoom, LiveSensor
from hangroom.terms import AirReading, Because, Command, RelayKind, RoomPlan

TICK_S = 2.0
LOAN_TICKS = 3
FLUSH_EVERY_S = 60.0
CLOCK_JUMP = timedelta(seconds=30)
# Moments are sums of seconds: this share of a tick may be lost in their last digits.
ROUNDING_RATIO = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class WiredRoom:
    """A room's plan with the sensors and relays that stand for it, real or simulated."""

    plan: RoomPlan
    sensors: Mapping[str, AirSensor]
    read_every_s: Mapping[str, float]
    relays: Mapping[RelayKind, Relay]


@dataclass(slots=True, kw_only=True)
class _Memory:
    """What the loop itself remembers of a room between ticks."""

    state: RoomState
    noted: dict[RelayKind, tuple[bool, str]]
    since: dict[RelayKind, tuple[datetime, float]]
    readings: dict[str, AirReading | None]
    newest: dict[str, AirReading]
    decision: Decision | None = None
    noted_plan: RoomPlan | None = None


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

    `plans_now` answers the page's requests and returns the plans that hold from the next tick
    on. `show` publishes the live board. `alive` is called after each completed tick and feeds
    the watchdog. `clock_jumped` is called when the wall clock was moved.
    """

    def __init__(
        self,
        rooms: Mapping[str, WiredRoom],
        *,
        clock: Clock,
        journal: Journal,
        boot_id: str,
        version: str,
        plans_now: Callable[[Mapping[str, RoomPlan], datetime], Mapping[str, RoomPlan]],
        show: Callable[[LiveBoard], None],
        alive: Callable[[], None],
        clock_jumped: Callable[[], None],
    ) -> None:
        self._rooms = rooms
        self._clock = clock
        self._journal = journal
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
            name: _started(plan, now=now, uptime_s=uptime_s) for name, plan in self._plans.items()
        }
        self._wall_minus_uptime = now - timedelta(seconds=uptime_s)
        self._flushed_uptime_s = uptime_s

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
        uptime_s = self._grid.moment_s(self._clock.uptime_s())
        missed_from_s = self._grid.missed_from_s(uptime_s)
        for name, room in self._rooms.items():
            memory = self._memory[name]
            memory.decision = decide(
                memory.state,
                self._plans[name],
                memory.readings,
                uptime_s=uptime_s,
            )
            _act(memory.decision.commands, room.relays, until_s=uptime_s + LOAN_TICKS * TICK_S)
            memory.state = memory.decision.state
        now = self._clock.now()
        if missed_from_s is not None:
            self._journal.note_missed_ticks(after_uptime_s=missed_from_s, next_uptime_s=uptime_s)
        self._watch_the_clock(now, self._clock.uptime_s())
        for name, room in self._rooms.items():
            self._note(name, room, now, uptime_s)
        if uptime_s - self._flushed_uptime_s >= FLUSH_EVERY_S:
            self._journal.flush(now=now)
            self._flushed_uptime_s = uptime_s
        self._show(self._board(now, self._clock.uptime_s()))
        self._plans = dict(self._plans_now(self._plans, now))

    def _note(self, name: str, room: WiredRoom, now: datetime, uptime_s: float) -> None:
        memory = self._memory[name]
        plan = self._plans[name]
        if plan != memory.noted_plan:
            self._journal.note_plan(name, plan, uptime_s=uptime_s)
            memory.noted_plan = plan
        for sensor_name, sensor in room.sensors.items():
            reading = memory.readings[sensor_name]
            if reading is not None and reading is not memory.newest.get(sensor_name):
                memory.newest[sensor_name] = reading
                self._journal.note_reading(name, sensor_name, reading, seen_uptime_s=uptime_s)
            self._journal.note_faults(name, sensor_name, sensor.faults(), now=now)
        for command in memory.decision.commands if memory.decision else ():
            told = (command.closed, command.because.code)
            before = memory.noted.get(command.relay)
            if told != before:
                self._journal.note_command(name, command, now=now, uptime_s=uptime_s)
                memory.noted[command.relay] = told
                if before is not None and before[0] != command.closed:
                    memory.since[command.relay] = (now, uptime_s)

    def _watch_the_clock(self, now: datetime, uptime_s: float) -> None:
        wall_minus_uptime = now - timedelta(seconds=uptime_s)
        jump = wall_minus_uptime - self._wall_minus_uptime
        self._wall_minus_uptime = wall_minus_uptime
        if abs(jump) > CLOCK_JUMP:
            self._journal.note_event(
                "clock-jump", now=now, figures={"jump_s": jump.total_seconds()}
            )
            self._clock_jumped()

    def _board(self, now: datetime, uptime_s: float) -> LiveBoard:
        return LiveBoard(
            boot_id=self._boot_id,
            version=self._version,
            written_at=now,
            uptime_s=uptime_s,
            tick_s=TICK_S,
            unwritten_rows=self._journal.unwritten_rows,
            rooms={
                name: _live_room(self._plans[name], room, self._memory[name])
                for name, room in self._rooms.items()
            },
        )


def _started(plan: RoomPlan, *, now: datetime, uptime_s: float) -> _Memory:
    return _Memory(
        state=starting_state(plan, uptime_s=uptime_s),
        noted={},
        since=dict.fromkeys(plan.relays, (now, uptime_s)),
        readings={},
        newest={},
    )


def _act(commands: Sequence[Command], relays: Mapping[RelayKind, Relay], *, until_s: float) -> None:
    # Contacts open before others close, so that no two of a pair meet even for a moment.
    for command in commands:
        if not command.closed:
            relays[command.relay].open()
    for command in commands:
        if command.closed:
            relays[command.relay].hold_closed(until_uptime_s=until_s)


def _live_room(plan: RoomPlan, room: WiredRoom, memory: _Memory) -> LiveRoom:
    decision = memory.decision
    humidity, temperature = plan.humidity, plan.temperature
    air = decision.air if decision else Because("no-reading")
    return LiveRoom(
        stage=plan.stage,
        humidity_setpoint_pct=humidity.setpoint_pct if humidity else None,
        humidity_band_pct=humidity.band_pct if humidity else None,
        temperature_setpoint_c=temperature.setpoint_c if temperature else None,
        temperature_band_c=temperature.band_c if temperature else None,
        distrusted=air if isinstance(air, Because) else None,
        sensors={
            name: LiveSensor(
                reading=memory.newest.get(name),
                read_every_s=room.read_every_s[name],
                faults=dict(sensor.faults()),
            )
            for name, sensor in room.sensors.items()
        },
        relays={
            command.relay: LiveRelay(
                closed=command.closed,
                since_at=memory.since[command.relay][0],
                since_uptime_s=memory.since[command.relay][1],
                because=command.because,
            )
            for command in (decision.commands if decision else ())
        },
    )
