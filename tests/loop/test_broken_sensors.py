"""A sensor's child that hangs, dies or lies: no tick waits for it, and it ends in its alarm."""

import time
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from hardware.sensing import wait_for
from loop.alarm_house import shown
from loop.fakes import HUMIDIFIER, TICK_S, FakeSensor, House

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.table import TABLE
from hangroom.hardware.child_sensor import ChildSensor, Pace
from hangroom.hardware.clock import SystemClock
from hangroom.sensor_kinds import KINDS
from hangroom.simulation.clock import SimulatedClock
from hangroom.terms import AirReading

EXPIRES_S = 30.0  # as the fakes' plan has it
TOLD_AFTER_S = EXPIRES_S + TABLE[AlarmId.SENSOR_STALE].on_delay_s

# A tick that waited for a child would wait for this, or for ever.
PATIENT = Pace(read_every_s=0.01, rest_s=0.0, answer_within_s=60.0, longest_back_off_s=0.05)


class ChildInTheHouse(FakeSensor):
    """A real sensor with a real child; what it newly measures is dated by the house's clock."""

    def __init__(self, clock: SimulatedClock) -> None:
        super().__init__(clock)
        self.child = ChildSensor(
            name="rail",
            kind=KINDS["dht22"],
            driver="hardware.scripted:good_until_marked",
            place=(4,),
            clock=SystemClock(),
            pace=PATIENT,
        )
        self._seen: AirReading | None = None
        self._dated: AirReading | None = None

    def latest(self) -> AirReading | None:
        newest = self.child.latest()
        if newest is not None and newest is not self._seen:
            self._seen = newest
            self._dated = replace(
                newest, taken_at=self._clock.now(), taken_uptime_s=self._clock.uptime_s()
            )
        return self._dated

    def faults(self) -> Mapping[str, int]:
        return self.child.faults()

    def close(self) -> None:
        self.child.close()


@pytest.fixture
def mark(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[1]))
    monkeypatch.setenv("SCRIPTED_MARK", str(tmp_path / "mark"))
    return tmp_path / "mark"


@pytest.fixture
def opened() -> Iterator[list[ChildInTheHouse]]:
    """The sensors that `in_a_house` has opened."""
    opened: list[ChildInTheHouse] = []
    yield opened
    for sensor in opened:
        sensor.close()


@pytest.fixture
def in_a_house(
    new_house: Callable[..., House], opened: list[ChildInTheHouse], monkeypatch: pytest.MonkeyPatch
) -> Callable[[str], tuple[House, ChildInTheHouse]]:
    """Build a house whose sensor will break in that way as soon as `mark` is there."""

    def build(bad: str) -> tuple[House, ChildInTheHouse]:
        monkeypatch.setenv("SCRIPTED_BAD", bad)

        def sensor(clock: SimulatedClock) -> ChildInTheHouse:
            opened.append(ChildInTheHouse(clock))
            return opened[-1]

        return new_house(sensor=sensor), opened[-1]

    return build


def timed(house: House) -> float:
    """Do one tick; return how long it took on a real clock, s."""
    began_s = time.perf_counter()
    house.tick()
    return time.perf_counter() - began_s


@pytest.mark.parametrize(
    ("bad", "counted"),
    [
        ("hangs", ""),  # its 60 s are not over
        ("dies", "child-died"),
        ("lies", "garbage"),
        ("all_zero", "all-zero"),
        ("clone", "out-of-range"),
        ("checksum_fails", "checksum"),
        ("unplugged", "no-answer"),
    ],
)
def test_no_tick_waits_for_a_broken_sensor_and_it_ends_in_its_alarm(
    in_a_house: Callable[[str], tuple[House, ChildInTheHouse]], mark: Path, bad: str, counted: str
) -> None:
    house, sensor = in_a_house(bad)
    for _ in range(200):
        before = sensor.child.latest()
        wait_for(lambda before=before: sensor.child.latest() is not before)  # type: ignore[misc]
        house.tick()
        if house.relays["closet"][HUMIDIFIER].is_closed():  # it is dry
            break
    assert house.relays["closet"][HUMIDIFIER].is_closed()
    assert AlarmId.SENSOR_STALE not in shown(house)

    mark.touch()
    wait_for(mark.with_suffix(".broke").exists)
    wait_for(lambda: not counted or sensor.faults()[counted] >= 2)
    longest_s, off_after_s = timed(house), 0.0
    began_s = house.clock.uptime_s()
    while AlarmId.SENSOR_STALE not in shown(house):
        if counted and house.clock.uptime_s() % 20 == 0:  # the house's time runs far ahead
            failed = sensor.faults()[counted]
            wait_for(lambda failed=failed: sensor.faults()[counted] > failed)  # type: ignore[misc]
        longest_s = max(longest_s, timed(house))
        since_s = house.clock.uptime_s() - began_s
        assert since_s <= TOLD_AFTER_S + TICK_S, "no alarm"
        if house.relays["closet"][HUMIDIFIER].is_closed():
            off_after_s = since_s + TICK_S
    assert longest_s < TICK_S  # of a child's 60 s
    assert off_after_s <= EXPIRES_S + TICK_S


def test_a_sensor_that_never_spoke_is_an_alarm_too(
    in_a_house: Callable[[str], tuple[House, ChildInTheHouse]], mark: Path
) -> None:
    mark.touch()
    house, _ = in_a_house("hangs")
    ticks = range(round((TOLD_AFTER_S + 2 * TICK_S) / TICK_S))
    assert max(timed(house) for _ in ticks) < TICK_S
    assert not house.closed
    assert AlarmId.SENSOR_STALE in shown(house)
