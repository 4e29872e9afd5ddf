import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Protocol

import pytest

from hangroom.hardware.child import Child
from hangroom.hardware.clock import SystemClock
from hangroom.hardware.dht22 import Dht22, Pace
from hangroom.ports import AirSensor

QUICK = Pace(
    read_every_s=0.02, rest_s=0.0, answer_within_s=1.0, start_within_s=5.0, longest_back_off_s=0.1
)


# Processes that other tests of this run have open, a browser for example.
OTHERS: set[int] = set()


class Open(Protocol):
    def __call__(self, driver: str, pace: Pace = QUICK) -> Dht22: ...


@pytest.fixture
def open_sensor(monkeypatch: pytest.MonkeyPatch) -> Iterator[Open]:
    """Open sensors on scripted drivers, and prove afterwards that nothing is left running."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent))
    OTHERS.clear()
    OTHERS.update(children())
    opened: list[Dht22] = []

    def open_sensor(driver: str, pace: Pace = QUICK) -> Dht22:
        sensor = Dht22(
            name="rail", pin=4, clock=SystemClock(), pace=pace, driver=f"scripted:{driver}"
        )
        opened.append(sensor)
        return sensor

    yield open_sensor
    for sensor in opened:
        sensor.close()
        sensor.close()
    assert not children()
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("DHT22")]


def children() -> list[int]:
    """The processes started by this test, zombies included, as the kernel knows them."""
    found: list[int] = []
    for task in Path("/proc/self/task").iterdir():
        # A thread may end between being listed and being asked.
        with suppress(FileNotFoundError, ProcessLookupError):
            found += [int(pid) for pid in (task / "children").read_text().split()]
    return [pid for pid in found if pid not in OTHERS]


def as_port(sensor: AirSensor) -> AirSensor:
    return sensor


def wait_for(what: Callable[[], bool], within_s: float = 8.0) -> None:
    until_s = time.monotonic() + within_s
    while not what():
        assert time.monotonic() < until_s, "did not happen in time"
        time.sleep(0.005)


def test_a_sensor_fits_the_port_and_stamps_its_own_measurement(open_sensor: Open) -> None:
    started_s = time.monotonic()
    sensor = as_port(open_sensor("good"))
    wait_for(lambda: sensor.latest() is not None)
    reading = sensor.latest()
    assert reading is not None
    assert (sensor.name, reading.temperature_c, reading.humidity_pct) == ("rail", 14.0, 78.0)
    # Moments are kept to the millisecond.
    assert started_s - 0.001 < reading.taken_uptime_s < time.monotonic() + 0.001
    assert abs(datetime.now(UTC) - reading.taken_at) < timedelta(seconds=5)
    assert not any(sensor.faults().values())


def test_the_same_reading_is_handed_out_until_there_is_a_newer_one(open_sensor: Open) -> None:
    sensor = open_sensor("good", Pace(rest_s=30.0))
    wait_for(lambda: sensor.latest() is not None)
    assert sensor.latest() is sensor.latest()


def test_what_a_library_prints_is_not_taken_for_an_answer(open_sensor: Open) -> None:
    sensor = open_sensor("babbles")
    wait_for(lambda: sensor.latest() is not None)
    assert not any(sensor.faults().values())


@pytest.mark.parametrize(
    ("driver", "reason"),
    [
        ("hangs", "timeout"),
        ("dies", "child-died"),
        ("cannot_start", "child-died"),
        ("no_such_driver", "child-died"),
        ("checksum_fails", "checksum"),
        ("unplugged", "no-answer"),
        ("all_zero", "all-zero"),
        ("clone", "out-of-range"),
        ("lies", "garbage"),
    ],
)
def test_a_bad_reading_is_absent_and_counted(open_sensor: Open, driver: str, reason: str) -> None:
    sensor = open_sensor(driver)
    wait_for(lambda: sensor.faults()[reason] >= 2)
    assert sensor.latest() is None
    assert {why for why, times in sensor.faults().items() if times} == {reason}


def test_a_child_that_hangs_while_starting_is_killed_too(open_sensor: Open) -> None:
    sensor = open_sensor("hangs_while_starting", Pace(rest_s=0.0, start_within_s=0.2))
    wait_for(lambda: sensor.faults()["timeout"] == 1)
    wait_for(lambda: not children())


def test_asking_takes_no_time_while_the_child_hangs(open_sensor: Open) -> None:
    sensor = open_sensor("hangs", Pace(answer_within_s=30.0))
    wait_for(lambda: bool(children()))
    longest_s = 0.0
    for _ in range(200):
        before_s = time.monotonic()
        assert sensor.latest() is None
        sensor.faults()
        longest_s = max(longest_s, time.monotonic() - before_s)
        time.sleep(0.001)
    assert longest_s < 0.05


def test_closing_does_not_wait_for_a_child_that_hangs(open_sensor: Open) -> None:
    sensor = open_sensor("hangs", Pace(answer_within_s=30.0))
    wait_for(lambda: bool(children()))
    before_s = time.monotonic()
    sensor.close()
    assert time.monotonic() - before_s < 2
    assert not children()


def test_a_new_child_takes_over_from_one_that_hung(
    open_sensor: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SCRIPTED_MARK", str(tmp_path / "mark"))
    sensor = open_sensor("hangs_once_then_works")
    wait_for(lambda: sensor.latest() is not None)
    assert sensor.faults()["timeout"] == 1


def test_a_child_killed_from_outside_is_replaced(open_sensor: Open) -> None:
    sensor = open_sensor("good")
    wait_for(lambda: sensor.latest() is not None)
    os.kill(children()[0], signal.SIGKILL)
    wait_for(lambda: sensor.faults()["child-died"] == 1)
    before = sensor.latest()
    wait_for(lambda: sensor.latest() is not before)


def test_a_failed_read_leaves_the_old_reading_with_its_old_stamp(open_sensor: Open) -> None:
    sensor = open_sensor("fails_every_second_time")
    taken: dict[float, set[float]] = {}

    def seen_enough() -> bool:
        reading = sensor.latest()
        if reading is not None:
            taken.setdefault(reading.taken_uptime_s, set()).add(reading.temperature_c)
        return sensor.faults()["no-answer"] >= 5

    wait_for(seen_enough)
    assert len(taken) >= 2
    values = [value for values in taken.values() for value in values]
    assert len(values) == len(set(values)) == len(taken)


def test_after_a_fault_the_sensor_rests_for_more_than_two_seconds(
    open_sensor: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """AM2302 data sheet: two seconds between reads at least."""
    mark = tmp_path / "times"
    mark.touch()
    monkeypatch.setenv("SCRIPTED_MARK", str(mark))
    open_sensor("notes_its_times", Pace(read_every_s=0.0))
    wait_for(lambda: len(mark.read_text().splitlines()) >= 2)
    first_s, second_s = (float(line) for line in mark.read_text().splitlines()[:2])
    assert second_s - first_s > 2.0


def test_restarts_come_ever_more_slowly_up_to_a_limit(
    open_sensor: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    waits: list[float] = []

    class CountingEvent(threading.Event):
        def wait(self, timeout: float | None = None) -> bool:
            if timeout is not None and threading.current_thread().name.startswith("DHT22"):
                waits.append(timeout)
                timeout = 0.0
            return super().wait(timeout)

    monkeypatch.setattr("hangroom.hardware.dht22.threading.Event", CountingEvent)
    open_sensor("cannot_start", Pace(longest_back_off_s=40.0))
    wait_for(lambda: len(waits) >= 5)
    assert waits[:5] == [6.0, 12.0, 24.0, 40.0, 40.0]


def pulses(*frame: int) -> list[int]:
    """A frame of five bytes as the sensor sends it, in microseconds.

    AM2302 data sheet: each bit is 50 us low, then 26 to 28 us high for 0 or 70 us for 1; a last
    low ends the frame.
    """
    bits = [byte >> (7 - place) & 1 for byte in frame for place in range(8)]
    return [width for bit in bits for width in (50, 70 if bit else 27)] + [50]


# Worked examples of the AM2302 data sheet: 65.2 %RH and 35.1 degC, checksum 0xEE; and the sign
# bit, 1000 0000 0110 0101 for -10.1 degC.
@pytest.mark.parametrize(
    ("frame", "temperature_c", "humidity_pct"),
    [
        pytest.param((0x02, 0x8C, 0x01, 0x5F, 0xEE), 35.1, 65.2, id="warm"),
        pytest.param((0x02, 0x8C, 0x80, 0x65, 0x73), -10.1, 65.2, id="below freezing"),
    ],
)
def test_the_data_sheets_frames_read_as_printed_through_the_real_library(
    open_sensor: Open,
    monkeypatch: pytest.MonkeyPatch,
    frame: tuple[int, ...],
    temperature_c: float,
    humidity_pct: float,
) -> None:
    monkeypatch.setenv("SCRIPTED_FRAMES", json.dumps([pulses(*frame)]))
    sensor = open_sensor("plays_frames")
    wait_for(lambda: sensor.latest() is not None)
    reading = sensor.latest()
    assert reading is not None
    assert (reading.temperature_c, reading.humidity_pct) == (temperature_c, humidity_pct)


@pytest.mark.parametrize(
    ("recorded", "reason"),
    [
        pytest.param(pulses(0x02, 0x8C, 0x01, 0x5F, 0xEF), "checksum", id="one bit flipped"),
        pytest.param([], "no-answer", id="unplugged"),
        pytest.param(pulses(0x02, 0x8C, 0x01, 0x5F, 0xEE)[:70], "no-answer", id="edges missed"),
        pytest.param(pulses(0, 0, 0, 0, 0), "all-zero", id="data line held low"),
        pytest.param(pulses(0x04, 0xB0, 0x01, 0x5F, 0x14), "out-of-range", id="120 %RH"),
        pytest.param(pulses(0x02, 0x8C, 0xFF, 0xFB, 0x88), "out-of-range", id="-0.5 in two's"),
    ],
)
def test_after_a_good_frame_a_bad_one_never_gives_the_old_value_as_new(
    open_sensor: Open, monkeypatch: pytest.MonkeyPatch, recorded: list[int], reason: str
) -> None:
    """Read quickly on purpose: the library hands out its last values within two seconds."""
    good = pulses(0x02, 0x8C, 0x01, 0x5F, 0xEE)
    monkeypatch.setenv("SCRIPTED_FRAMES", json.dumps([good, recorded]))
    sensor = open_sensor("plays_frames")
    wait_for(lambda: sensor.faults()[reason] >= 3)
    reading = sensor.latest()
    assert reading is not None
    wait_for(lambda: sensor.faults()[reason] >= 6)
    assert sensor.latest() is reading


@pytest.mark.usefixtures("open_sensor")
def test_a_child_that_talks_without_an_end_is_not_listened_to_for_ever() -> None:
    child = Child("scripted")
    assert len(child.listen(5.0)) < 10_000
    child.close()


@pytest.mark.usefixtures("open_sensor")
def test_a_child_whose_parent_is_gone_ends() -> None:
    """The end of its input is all it needs; a hung one has its own alarm."""
    with subprocess.Popen(
        [sys.executable, "-m", "hangroom.hardware.dht22_child", "scripted:good", "4"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as process:
        assert process.communicate(timeout=10)[0] == b'{"ready": true}\n'
        assert process.returncode == 0


@pytest.mark.usefixtures("open_sensor")
def test_a_child_that_hangs_ends_even_when_nobody_is_left_to_kill_it() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "hangroom.hardware.dht22_child", "scripted:hangs_as_an_orphan", "4"],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
    ) as process:
        try:
            process.communicate(b"\n", timeout=10)
        finally:
            process.kill()
        assert process.returncode == -signal.SIGALRM
