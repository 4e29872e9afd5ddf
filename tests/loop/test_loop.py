"""The loop on a still clock, with fakes that write down everything in the order it happens."""

import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path

import pytest

from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.loop import Loop, WiredRoom
from hangroom.ports import AirSensor, Journal, Relay
from hangroom.simulation.clock import SimulatedClock
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal as StoreJournal
from hangroom.store.live import LiveBoard
from hangroom.terms import (
    AirReading,
    Because,
    Command,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

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
    # In this order a loop that switched relays as they come would close before it opens.
    relays=dict.fromkeys(
        (HEATER, COOLING, EXHAUST, HUMIDIFIER), RelayRules(min_on_s=0, min_off_s=0)
    ),
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
        self.fails: dict[str, Exception] = {}
        self.readings: list[AirReading] = []
        self.commands: list[tuple[float, Command]] = []
        self.events: list[tuple[str, Mapping[str, float]]] = []
        self.flushed_at: list[datetime] = []

    def _said(self, what: str) -> None:
        self._log.append(what)
        if what in self.fails:
            raise self.fails[what]

    def note_reading(self, room: str, sensor: str, reading: AirReading) -> None:
        del room, sensor
        self._said("note_reading")
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

    def note_event(self, kind: str, *, now: datetime, figures: Mapping[str, float]) -> None:
        del now
        self._said("note_event")
        self.events.append((kind, figures))

    def flush(self, *, now: datetime) -> bool:
        self._said("flush")
        self.flushed_at.append(now)
        return True


class House:
    """A loop with everything it needs, and `log`: what happened, in order."""

    def __init__(
        self,
        *,
        plans: Sequence[RoomPlan] = (PLAN,),
        journal: Journal | None = None,
        sensor: Callable[[SimulatedClock], FakeSensor] = FakeSensor,
    ) -> None:
        self.clock = SimulatedClock(start=START, uptime_s=1000.0)
        self.log: list[str] = []
        self.notes = FakeJournal(self.log)
        self.sensor = sensor(self.clock)
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
            boot_id="boot",
            version="0.0.1",
            plans_now=self._plans_now,
            show=self._show,
            alive=self._alive,
            clock_jumped=self._clock_jumped,
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

    def _plans_now(self, plans: Mapping[str, RoomPlan], now: datetime) -> Mapping[str, RoomPlan]:
        del now
        self._said("plans_now")
        return self.new_plans or plans

    def _show(self, board: LiveBoard) -> None:
        self._said("show")
        self.boards.append(board)

    def _alive(self) -> None:
        self._said("alive")
        self.before_waiting()

    def _clock_jumped(self) -> None:
        self.jumps += 1


@pytest.fixture
def houses() -> list[House]:
    return []


@pytest.fixture(autouse=True)
def no_relay_stays_closed(houses: list[House]) -> Iterator[None]:
    """Fail any test in which a loop has run and left a contact closed."""
    yield
    for house in houses:
        if house.ran:
            assert all(
                relay.until_s == 0.0 for room in house.relays.values() for relay in room.values()
            )


@pytest.fixture
def new_house(houses: list[House]) -> Callable[..., House]:
    def make(**given: object) -> House:
        house = House(**given)  # type: ignore[arg-type]  # each test passes what House names
        houses.append(house)
        return house

    return make


@pytest.fixture
def house(new_house: Callable[..., House]) -> House:
    return new_house()


def running(house: House) -> House:
    """Return the house with its humidifier on."""
    house.tick(DRY)
    assert house.closed == {HUMIDIFIER}
    return house


def is_relay(entry: str) -> bool:
    return entry.startswith(("open ", "close "))


def test_all_relays_of_all_rooms_are_told_before_anything_is_noted(
    new_house: Callable[..., House],
) -> None:
    house = new_house(plans=(PLAN, replace(PLAN, name="fridge")))
    happened = house.tick(DRY)
    told = [is_relay(entry) for entry in happened]
    assert sum(told) == 2 * len(PLAN.relays)
    assert all(told[: sum(told)])
    assert {"note_reading", "note_faults", "note_command", "show", "plans_now"} <= set(happened)


FAILING = [
    "note_reading",
    "note_faults",
    "note_command",
    "note_event",
    "flush",
    "show",
    "plans_now",
]


@pytest.mark.parametrize("error", [sqlite3.OperationalError("disk I/O error"), OSError(28, "full")])
@pytest.mark.parametrize("place", FAILING)
def test_relays_have_been_told_whatever_fails_after_them(
    house: House, place: str, error: Exception
) -> None:
    running(house)
    house.clock.wait_until(house.clock.uptime_s() + 60.0)  # so that a flush is due
    house.clock.step_wall(3600.0)  # and something has happened to note
    house.notes.fails = house.fails = {place: error}
    with pytest.raises(type(error)):
        house.tick(SOAKED)
    assert f"open closet {HUMIDIFIER}" in house.log
    assert house.closed == {EXHAUST}


@pytest.mark.parametrize("place", FAILING[:3] + FAILING[5:])
def test_what_fails_ends_the_run_with_every_relay_open_and_no_sign_of_life(
    house: House, place: str
) -> None:
    running(house)
    house.notes.fails = house.fails = {place: sqlite3.OperationalError("disk I/O error")}
    house.sensor.measures(SOAKED)
    house.log.clear()
    with pytest.raises(sqlite3.OperationalError):
        house.run()
    assert "alive" not in house.log
    assert house.log[-len(PLAN.relays) :] == [f"open closet {kind}" for kind in PLAN.relays]
    assert not house.closed


@pytest.mark.parametrize("error", [KeyboardInterrupt(), SystemExit(1), ZeroDivisionError()])
def test_an_interruption_opens_every_relay_and_goes_on_its_way(
    house: House, error: BaseException
) -> None:
    running(house)

    def interrupt(_: float) -> None:
        assert house.closed == {HUMIDIFIER}
        raise error

    house.clock.follow(interrupt)
    with pytest.raises(type(error)):
        house.run()
    assert not house.closed


def test_stopping_ends_the_run_with_every_relay_open(house: House) -> None:
    ticks = count(1)

    def stop_after_three() -> None:
        house.sensor.measures(DRY)
        if next(ticks) == 3:
            assert house.closed == {HUMIDIFIER}
            house.loop.stop()

    house.before_waiting = stop_after_three
    house.run()
    assert not house.closed
    assert house.log.count("alive") == 3


def test_ticks_are_two_seconds_apart_and_each_shows_that_it_is_alive_when_done(
    house: House,
) -> None:
    def stop_after_three() -> None:
        if len(house.boards) == 3:
            house.loop.stop()

    house.before_waiting = stop_after_three
    house.run()
    assert [board.uptime_s for board in house.boards] == [1000.0, 1002.0, 1004.0]
    once = [entry for entry in house.log if entry in {"show", "plans_now", "alive"}]
    assert once == ["show", "plans_now", "alive"] * 3


@pytest.mark.parametrize(
    ("first", "then", "opened", "closed"),
    [
        ((11.0, 75.0), (15.0, 75.0), HEATER, COOLING),
        ((15.0, 75.0), (11.0, 75.0), COOLING, HEATER),
        (DRY, SOAKED, HUMIDIFIER, EXHAUST),
        ((13.0, 80.0), (13.0, 49.0), EXHAUST, HUMIDIFIER),
    ],
)
def test_contacts_open_before_others_close(
    house: House,
    first: tuple[float, float],
    then: tuple[float, float],
    opened: RelayKind,
    closed: RelayKind,
) -> None:
    house.tick(first)
    assert house.closed == {opened}
    happened = house.tick(then)
    assert happened.index(f"open closet {opened}") < happened.index(f"close closet {closed}")
    assert house.closed == {closed}


def test_a_closed_relay_is_a_loan_that_every_tick_renews_and_that_runs_out(house: House) -> None:
    relay = running(house).relays["closet"][HUMIDIFIER]
    for _ in range(2):
        assert relay.until_s == house.clock.uptime_s() + LOAN_S
        house.tick(DRY)
    house.clock.wait_until(house.clock.uptime_s() + LOAN_S - 0.1)
    assert relay.is_closed()
    house.clock.wait_until(house.clock.uptime_s() + 0.1)
    assert not relay.is_closed()


def test_every_reading_is_noted_once(house: House) -> None:
    taken = []
    for number in range(6):
        if number % 3 == 0:
            taken.append(house.sensor.measures(FINE))
        house.tick()
    assert house.notes.readings == taken


class BusySensor(FakeSensor):
    """A new measurement is there whenever it is asked, as may happen between two looks."""

    def latest(self) -> AirReading | None:
        self._clock.wait_until(self._clock.uptime_s() + 0.01)
        return self.measures((13.0, 60.0 + self._clock.uptime_s() * 7 % 30))


def test_the_readings_that_were_decided_on_are_those_that_are_noted_and_give_the_same_commands(
    new_house: Callable[..., House],
) -> None:
    house = new_house(sensor=BusySensor)
    for _ in range(60):
        house.tick()
    state = starting_state(PLAN, uptime_s=1000.0)
    again, told = [], dict[RelayKind, tuple[bool, str]]()
    for board, reading in zip(house.boards, house.notes.readings, strict=True):
        decision = decide(state, PLAN, [reading], uptime_s=board.uptime_s)
        state = decision.state
        for command in decision.commands:
            if told.get(command.relay) != (command.closed, command.because.code):
                told[command.relay] = (command.closed, command.because.code)
                again.append((board.uptime_s, command))
    assert again == house.notes.commands
    assert len(again) > len(PLAN.relays)


def test_commands_are_noted_when_position_or_reason_changes_and_not_for_new_figures(
    house: House,
) -> None:
    def noted(air: tuple[float, float]) -> list[tuple[RelayKind, bool, str]]:
        house.notes.commands.clear()
        house.tick(air)
        return [(c.relay, c.closed, c.because.code) for _, c in house.notes.commands]

    assert {relay for relay, _, _ in noted(FINE)} == set(PLAN.relays)
    assert noted((13.0, 75.3)) == []
    assert noted(DRY) == [(HUMIDIFIER, True, "too-dry")]
    assert noted(DRY) == [(HUMIDIFIER, True, "humidifying")]
    assert noted((13.0, 61.0)) == []


def test_failed_measurements_are_noted_as_they_come_and_not_again(
    new_house: Callable[..., House], tmp_path: Path
) -> None:
    path = prepare_database(tmp_path)
    journal = StoreJournal(path)
    journal.start({"closet": ["rail"]}, boot_id="boot", version="0.0.1", now=START)
    house = new_house(journal=journal)
    for total in (0, 2, 2, 5):
        house.sensor.failed = {"timeout": total}
        house.tick()
    assert journal.flush(now=house.clock.now())
    journal.close()
    db = connect(path)
    assert db.execute("select reason, sum(times) from sensor_fault").fetchall() == [("timeout", 5)]
    db.close()


def test_the_journal_is_flushed_once_a_minute(house: House) -> None:
    for _ in range(95):  # 190 s
        house.tick(FINE)
    gaps = [at - START for at in house.notes.flushed_at]
    assert gaps == [timedelta(seconds=60), timedelta(seconds=120), timedelta(seconds=180)]


@pytest.mark.parametrize("jump_s", [3600.0, -3600.0])
def test_a_jump_of_the_wall_clock_is_noted_and_moves_no_relay(
    new_house: Callable[..., House], jump_s: float
) -> None:
    jumped, steady = new_house(), new_house()
    for number in range(30):
        if number == 10:
            jumped.clock.step_wall(jump_s)
        air = DRY if number % 8 < 4 else SOAKED
        relays = [[e for e in house.tick(air) if is_relay(e)] for house in (jumped, steady)]
        assert relays[0] == relays[1]
    [(kind, figures)] = jumped.notes.events
    assert kind == "clock-jump"
    assert figures == {"jump_s": pytest.approx(jump_s)}
    assert (jumped.jumps, steady.jumps) == (1, 0)
    assert steady.notes.events == []


def test_a_clock_that_is_merely_set_right_by_seconds_has_not_jumped(house: House) -> None:
    for _ in range(20):
        house.clock.step_wall(10.0)
        house.tick(FINE)
    assert house.jumps == 0


def test_a_sensor_that_never_measures_closes_nothing_and_is_said_to(house: House) -> None:
    for _ in range(200):
        assert not any(entry.startswith("close") for entry in house.tick())
    room = house.boards[-1].rooms["closet"]
    assert room.distrusted == Because("no-reading")
    assert room.sensors["rail"].reading is None
    assert house.notes.readings == []


def test_the_board_tells_what_is_wanted_measured_and_done(house: House) -> None:
    house.sensor.failed = {"timeout": 3}
    house.tick(FINE)
    house.tick(DRY)
    reading = house.sensor.latest()
    house.tick()
    board = house.boards[-1]
    assert (board.boot_id, board.version) == ("boot", "0.0.1")
    assert (board.written_at, board.uptime_s, board.tick_s) == (
        START + timedelta(seconds=6),
        1006.0,
        2.0,
    )
    assert board.unwritten_rows == 7
    room = board.rooms["closet"]
    assert room.stage is Stage.HANG
    assert (room.humidity_setpoint_pct, room.humidity_band_pct) == (75, 3)
    assert (room.temperature_setpoint_c, room.temperature_band_c) == (13, 1)
    assert room.distrusted is None
    sensor = room.sensors["rail"]
    assert (sensor.reading, sensor.read_every_s, sensor.faults) == (reading, 6.0, {"timeout": 3})
    on, off = room.relays[HUMIDIFIER], room.relays[EXHAUST]
    assert (on.closed, on.because.code) == (True, "humidifying")
    # Switched at the second tick; the other has stood open since the start.
    assert (on.since_at, on.since_uptime_s) == (START + timedelta(seconds=4), 1004.0)
    assert (off.closed, off.since_at, off.since_uptime_s) == (False, START, 1000.0)


def test_the_board_says_why_a_reading_is_not_trusted(house: House) -> None:
    house.tick((13.0, 99.9))
    assert house.boards[-1].rooms["closet"].distrusted == Because("implausible-reading")


def test_a_changed_plan_holds_from_the_next_tick_on(house: House) -> None:
    assert PLAN.humidity
    moister = replace(PLAN, humidity=replace(PLAN.humidity, setpoint_pct=85))
    house.new_plans = {"closet": moister}
    house.tick(FINE)
    assert house.boards[-1].rooms["closet"].humidity_setpoint_pct == 75
    assert not house.closed
    house.tick(FINE)
    assert house.boards[-1].rooms["closet"].humidity_setpoint_pct == 85
    assert house.closed == {HUMIDIFIER}
