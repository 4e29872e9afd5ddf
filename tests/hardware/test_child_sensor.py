"""A sensor read in a child: what hangs, dies, lies or fails is absent, counted, and holds up nobody."""

import os
import signal
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hardware.sensing import IMPATIENT, QUICK, Open, as_port, children, failed_by, wait_for

from hangroom.hardware.child import Child
from hangroom.hardware.child_sensor import Pace


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
    sensor = open_sensor(driver, IMPATIENT if reason == "timeout" else QUICK)
    wait_for(lambda: sensor.faults()[reason] >= 2)
    assert sensor.latest() is None
    assert failed_by(sensor) == {reason}


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
    assert longest_s < 1.0  # of a child's 30 s


def test_closing_does_not_wait_for_a_child_that_hangs(open_sensor: Open) -> None:
    sensor = open_sensor("hangs", Pace(answer_within_s=30.0))
    wait_for(lambda: bool(children()))
    before_s = time.monotonic()
    sensor.close()
    assert time.monotonic() - before_s < 10  # of a child's 30 s
    assert not children()


def test_a_new_child_takes_over_from_one_that_hung(
    open_sensor: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SCRIPTED_MARK", str(tmp_path / "mark"))
    sensor = open_sensor("hangs_once_then_works", IMPATIENT)
    wait_for(lambda: sensor.latest() is not None)
    assert sensor.faults()["timeout"] >= 1


def test_a_child_killed_from_outside_is_replaced(open_sensor: Open) -> None:
    sensor = open_sensor("good")
    wait_for(lambda: sensor.latest() is not None)
    os.kill(children()[0], signal.SIGKILL)
    wait_for(lambda: sensor.faults()["child-died"] == 1)
    before = sensor.latest()
    wait_for(lambda: sensor.latest() is not before)


def test_a_failed_read_leaves_the_old_reading_with_its_old_stamp(open_sensor: Open) -> None:
    # Long enough between two reads that none of them goes unseen here.
    sensor = open_sensor("fails_every_second_time", Pace(read_every_s=0.1, rest_s=0.1))
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


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """How long the sensor's thread would have waited, s, each time; it does not."""
    found: list[float] = []

    class CountingEvent(threading.Event):
        def wait(self, timeout: float | None = None) -> bool:
            if timeout is not None and threading.current_thread().name.startswith("sensor "):
                found.append(timeout)
                timeout = 0.0
            return super().wait(timeout)

    monkeypatch.setattr("hangroom.hardware.child_sensor.threading.Event", CountingEvent)
    return found


def test_restarts_come_ever_more_slowly_up_to_a_limit(
    open_sensor: Open, waits: list[float]
) -> None:
    open_sensor("cannot_start", Pace(longest_back_off_s=40.0))
    wait_for(lambda: len(waits) >= 5)
    assert waits[:5] == [6.0, 12.0, 24.0, 40.0, 40.0]


def test_one_failed_read_is_tried_again_after_the_rest_and_then_as_often_as_ever(
    open_sensor: Open, waits: list[float]
) -> None:
    """A DHT22 misses a frame now and then; its next one may come after two seconds."""
    open_sensor("fails_every_second_time", Pace(rest_s=2.1))
    wait_for(lambda: len(waits) >= 4)
    assert waits[:4] == [6.0, 2.1, 6.0, 2.1]
    waits.clear()
    open_sensor("unplugged", Pace(rest_s=2.1))
    wait_for(lambda: waits[-4:] == [6.0, 6.0, 6.0, 6.0])


def test_no_second_child_joins_one_that_is_stuck_inside_the_kernel(
    open_sensor: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process in an uninterruptible wait outlives even SIGKILL; here the killing does nothing."""
    kill = Child.kill
    monkeypatch.setattr(Child, "kill", lambda _child: None)
    sensor = open_sensor("hangs", Pace(read_every_s=0.02, rest_s=0.0, answer_within_s=0.1))
    wait_for(lambda: sensor.faults()["timeout"] >= 4)
    [stuck] = children()
    assert failed_by(sensor) == {"timeout"}
    monkeypatch.setattr(Child, "kill", kill)
    os.kill(stuck, signal.SIGKILL)  # at last
    wait_for(lambda: children() not in ([], [stuck]))


@pytest.mark.usefixtures("open_sensor")
def test_a_child_that_talks_without_an_end_is_not_listened_to_for_ever() -> None:
    child = Child("scripted")
    assert len(child.listen(5.0)) < 10_000
    child.close()


@pytest.mark.usefixtures("open_sensor")
def test_a_child_whose_parent_is_gone_ends() -> None:
    """The end of its input is all it needs; a hung one has its own alarm."""
    with subprocess.Popen(
        [sys.executable, "-m", "hangroom.hardware.sensor_child", "scripted:good", "4"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as process:
        assert process.communicate(timeout=60)[0] == b'{"ready": true}\n'
        assert process.returncode == 0


@pytest.mark.usefixtures("open_sensor")
def test_a_child_without_its_library_says_what_to_do() -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "hangroom.hardware.sensor_child", "no_such_library:open", "1", "68"],
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert (ended.returncode, ended.stdout) == (1, "")
    assert "I2C bus and address 1 68" in ended.stderr
    assert "Install its library (README, Sensors)" in ended.stderr


@pytest.mark.usefixtures("open_sensor")
def test_a_child_that_hangs_ends_even_when_nobody_is_left_to_kill_it() -> None:
    with subprocess.Popen(
        [
            sys.executable,
            "-m",
            "hangroom.hardware.sensor_child",
            "scripted:hangs_as_an_orphan",
            "4",
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
    ) as process:
        try:
            process.communicate(b"\n", timeout=60)
        finally:
            process.kill()
        assert process.returncode == -signal.SIGALRM
