"""What the loop notes, shows and asks once the relays have been told."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest
from loop.fakes import DRY, EXHAUST, FINE, HUMIDIFIER, PLAN, SOAKED, START, FakeSensor, House

from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.store.database import connect, prepare_database
from hangroom.store.journal import Journal as StoreJournal
from hangroom.store.live import LiveAir
from hangroom.terms import AirReading, Because, Calibration, RelayKind, Stage


def running(house: House) -> House:
    """Return the house with its humidifier on."""
    house.tick(DRY)
    assert house.closed == {HUMIDIFIER}
    return house


def is_relay(entry: str) -> bool:
    return entry.startswith(("open ", "close "))


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
    for seen_s, reading in zip(house.notes.seen_s, house.notes.readings, strict=True):
        decision = decide(state, PLAN, {"rail": reading}, uptime_s=seen_s)
        state = decision.state
        for command in decision.commands:
            if told.get(command.relay) != (command.closed, command.because.code):
                told[command.relay] = (command.closed, command.because.code)
                again.append((seen_s, command))
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


def test_the_journal_is_flushed_at_a_start_and_then_once_a_minute(house: House) -> None:
    for _ in range(95):  # 190 s
        house.tick(FINE)
    gaps = [at - START for at in house.notes.flushed_at]
    assert gaps == [timedelta(seconds=second) for second in (0, 60, 120, 180)]


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
    room = house.boards[-1].rooms["closet"]
    assert room.distrusted == Because("top-of-scale", {"seen_pct": 99.9})
    assert room.sensors["rail"].distrusted == room.distrusted
    assert room.air is None


def test_the_board_shows_the_air_as_believed_and_the_sensor_as_it_reads(house: House) -> None:
    checked = Calibration(gain_ratio=1.0, offset_pct=-1.5, checked_at=START)
    house.new_plans = {"closet": replace(PLAN, calibrations={"rail": checked})}
    house.tick(FINE)
    house.tick(FINE)
    room = house.boards[-1].rooms["closet"]
    sensor = room.sensors["rail"]
    assert room.air == LiveAir(temperature_c=13.0, humidity_pct=73.5)
    assert sensor.reading
    assert (sensor.reading.humidity_pct, sensor.calibration, sensor.distrusted) == (
        75,
        checked,
        None,
    )


def test_a_changed_plan_holds_from_the_next_tick_on(house: House) -> None:
    assert PLAN.humidity
    moister = replace(PLAN, humidity=replace(PLAN.humidity, setpoint_pct=85))
    house.new_plans = {"closet": moister}
    house.tick(FINE)
    assert not house.closed
    # The page sees at once what was agreed to; the relays follow with the next decision.
    assert house.boards[-1].rooms["closet"].humidity_setpoint_pct == 85
    house.tick(FINE)
    assert house.closed == {HUMIDIFIER}
