"""A house of fakes on a still clock, that writes down everything in the order it happens."""

from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime

from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.alarm_table.log import AlarmEvent
from hangroom.loop import Loop
from hangroom.ports import AirSensor, Clock, Journal, Relay
from hangroom.simulation.clock import SimulatedClock
from hangroom.store.live import LiveBoard
from hangroom.terms import (
    AirReading,
    Command,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)
from hangroom.wired import WiredRoom

START = datetime(2026, 11, 1, 7, 0, tzinfo=UTC)
TICK_S = 2.0
LOAN_S = 6.0  # three ticks
HUMIDIFIER, EXHAUST = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN
COOLING, HEATER = RelayKind.COOLING, RelayKind.HEATER
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92),
    temperature=TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30),
    relays=dict.fromkeys((HEATER, EXHAUST, HUMIDIFIER), RelayRules(min_on_s=0, min_off_s=0)),
    settle_s=0.0,
)
DRY = (13.0, 60.0)
SOAKED = (13.0, 95.0)
FINE = (13.0, 75.0)


class FakeSensor:
    """Measures, at every tick, the air it is told; None: has never measured."""

    name = "rail"

    def __init__(self, clock: SimulatedClock) -> None:
        self._clock = clock
        self._newest: AirReading | None = None
        self.failed: dict[str, int] = {}

    def measures(self, air: tuple[float, float]) -> AirReading:
        self._newest = AirReading(
            taken_at=self._clock.now(),
            taken_uptime_s=self._clock.uptime_s(),
            temperature_c=air[0],
            humidity_pct=air[1],
        )
        return self._newest

    def latest(self) -> AirReading | None:
        return self._newest

    def faults(self) -> Mapping[str, int]:
        return self.failed

    def close(self) -> None:
        pass


class RecordingRelay:
    """A contact that writes down what it is told."""

    def __init__(self, label: str, clock: SimulatedClock, log: list[str]) -> None:
        self._label, self._clock, self._log = label, clock, log
        self.until_s = 0.0

    def hold_closed(self, *, until_uptime_s: float) -> None:
        self._log.append(f"close {self._label}")
        self.until_s = until_uptime_s

    def open(self) -> None:
        self._log.append(f"open {self._label}")
        self.until_s = 0.0

    def is_closed(self) -> bool:
        return self._clock.uptime_s() < self.until_s

    def close_down(self) -> None:
        self.open()


class FakeJournal:
    """Keeps what is noted; `fails` maps the name of a method to what it raises."""

    def __init__(self, log: list[str]) -> None:
        self._log = log
        self.unwritten_rows = 7
        self.disk_full = False
        self.fails: dict[str, Exception] = {}
        self.readings: list[AirReading] = []
        self.commands: list[tuple[float, Command]] = []
        self.events: list[tuple[str, Mapping[str, float]]] = []
        self.flushed_at: list[datetime] = []
        self.alarms: list[tuple[str, AlarmEvent]] = []
        self.kept: dict[str, Mapping[str, object]] = {}
        self.starts: dict[str, tuple[object, float]] = {}
        self.seen_s: list[float] = []
        self.missed_s: list[tuple[float, float]] = []
        self.plans: list[tuple[float, RoomPlan]] = []

    def _said(self, what: str) -> None:
        self._log.append(what)
        if what in self.fails:
            raise self.fails[what]

    def begin_ticks(self, *, start_uptime_s: float, tick_s: float) -> None:
        del start_uptime_s, tick_s

    def note_missed_ticks(self, *, after_uptime_s: float, next_uptime_s: float) -> None:
        self._said("note_missed_ticks")
        self.missed_s.append((after_uptime_s, next_uptime_s))

    def note_plan(self, room: str, plan: RoomPlan, *, uptime_s: float) -> None:
        del room
        self._said("note_plan")
        self.plans.append((uptime_s, plan))

    def note_reading(
        self, room: str, sensor: str, reading: AirReading, *, seen_uptime_s: float
    ) -> None:
        del room, sensor
        self._said("note_reading")
        self.seen_s.append(seen_uptime_s)
        self.readings.append(reading)

    def note_faults(
        self, room: str, sensor: str, totals: Mapping[str, int], *, now: datetime
    ) -> None:
        del room, sensor, totals, now
        self._said("note_faults")

    def note_command(self, room: str, command: Command, *, now: datetime, uptime_s: float) -> None:
        del room, now
        self._said("note_command")
        self.commands.append((uptime_s, command))

    def note_event(
        self,
        kind: str,
        *,
        now: datetime,
        figures: Mapping[str, float],
        room: str = "",
        words: Mapping[str, str] | None = None,
    ) -> None:
        del now, room, words
        self._said("note_event")
        self.events.append((kind, figures))

    def note_start(self, room: str, kept: object, *, gap_s: float) -> None:
        self._said("note_start")
        self.starts[room] = (kept, gap_s)

    def note_alarm(self, scope: str, event: AlarmEvent) -> None:
        self._said("note_alarm")
        self.alarms.append((scope, event))

    def keep(self, what: str, body: Mapping[str, object]) -> None:
        self._said("keep")
        self.kept[what] = body

    def flush(self, *, now: datetime) -> bool:
        self._said("flush")
        self.flushed_at.append(now)
        return not self.disk_full


class House:
    """A loop with everything it needs, and `log`: what happened, in order."""

    def __init__(
        self,
        *,
        plans: Sequence[RoomPlan] = (PLAN,),
        journal: Journal | None = None,
        sensor: Callable[[SimulatedClock], FakeSensor] = FakeSensor,
        alarms: Callable[[Clock], AlarmDesk] | None = None,
        start: datetime = START,
        kept: Mapping[str, object] | None = None,
        with_outside: bool = False,
    ) -> None:
        self.clock = SimulatedClock(start=start, uptime_s=1000.0)
        self.log: list[str] = []
        self.notes = FakeJournal(self.log)
        self.sensor = sensor(self.clock)
        self.outside = FakeSensor(self.clock)
        self.relays = {
            plan.name: {
                kind: RecordingRelay(f"{plan.name} {kind}", self.clock, self.log)
                for kind in plan.relays
            }
            for plan in plans
        }
        self.boards: list[LiveBoard] = []
        self.fails: dict[str, Exception] = {}
        self.jumps = 0
        self.ran = False
        self.new_plans: Mapping[str, RoomPlan] | None = None
        self.before_waiting: Callable[[], None] = lambda: None
        sensors: Mapping[str, AirSensor] = {"rail": self.sensor}
        self.alarms = (
            alarms(self.clock)
            if alarms
            else AlarmDesk(self.relays, clock=self.clock, journal=journal or self.notes)
        )
        self.loop = Loop(
            {
                plan.name: WiredRoom(
                    plan=plan,
                    sensors=sensors,
                    read_every_s={"rail": 6.0},
                    relays=dict[RelayKind, Relay](self.relays[plan.name]),
                )
                for plan in plans
            },
            clock=self.clock,
            journal=journal or self.notes,
            alarms=self.alarms,
            boot_id="boot",
            version="0.0.1",
            plans_now=self._plans_now,
            show=self._show,
            alive=self._alive,
            clock_jumped=self._clock_jumped,
            kept=kept,
            outside={"wall": self.outside} if with_outside else None,
        )

    @property
    def closed(self) -> set[RelayKind]:
        return {
            k for room in self.relays.values() for k, relay in room.items() if relay.is_closed()
        }

    def tick(self, air: tuple[float, float] | None = None) -> list[str]:
        """Do one tick in this air, two seconds after the last, and return what happened in it."""
        self.clock.wait_until(self.clock.uptime_s() + TICK_S)
        if air is not None:
            self.sensor.measures(air)
        self.log.clear()
        self.loop.tick()
        return list(self.log)

    def run(self) -> None:
        self.ran = True
        self.loop.run()

    def _said(self, what: str) -> None:
        self.log.append(what)
        if what in self.fails:
            raise self.fails[what]

    def _plans_now(
        self, plans: Mapping[str, RoomPlan], now: datetime, uptime_s: float
    ) -> Mapping[str, RoomPlan]:
        del now, uptime_s
        self._said("plans_now")
        return self.new_plans or plans

    def _show(self, board: Callable[[], LiveBoard]) -> None:
        self._said("show")
        self.boards.append(board())

    def _alive(self) -> None:
        self._said("alive")
        self.before_waiting()

    def _clock_jumped(self) -> None:
        self.jumps += 1
