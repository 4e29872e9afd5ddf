import os
import signal
import threading
import time
from datetime import UTC
from pathlib import Path

import pytest

from hangroom.hardware.clock import SystemClock, boot_id


def test_wall_time_is_aware_utc_and_uptime_is_the_monotonic_clock() -> None:
    clock = SystemClock()
    assert clock.now().tzinfo is UTC
    assert clock.uptime_s() == pytest.approx(time.clock_gettime(time.CLOCK_MONOTONIC), abs=0.5)


def test_a_wait_lasts_until_its_moment_and_not_before() -> None:
    clock = SystemClock()
    # Not on a whole millisecond of the clock, and often enough that a rounding the wrong way shows.
    for _ in range(40):
        until_s = clock.uptime_s() + 0.0051
        clock.wait_until(until_s)
        assert clock.uptime_s() >= until_s


def test_a_moment_that_has_passed_is_not_waited_for() -> None:
    clock = SystemClock()
    before_s = clock.uptime_s()
    clock.wait_until(before_s - 100)
    assert clock.uptime_s() - before_s < 0.5


def test_waking_ends_the_wait_in_progress_and_every_later_one() -> None:
    clock = SystemClock()
    before_s = clock.uptime_s()
    threading.Timer(0.05, clock.wake).start()
    for _ in range(3):
        clock.wait_until(before_s + 60)
    assert clock.uptime_s() - before_s < 5


def test_a_signal_handler_in_the_waiting_thread_ends_the_wait() -> None:
    clock = SystemClock()
    before_s = clock.uptime_s()
    previous = signal.signal(signal.SIGUSR1, lambda *_: clock.wake())
    try:
        threading.Timer(0.05, os.kill, (os.getpid(), signal.SIGUSR1)).start()
        clock.wait_until(before_s + 60)
    finally:
        signal.signal(signal.SIGUSR1, previous)
    assert clock.uptime_s() - before_s < 5


def test_the_boot_is_named_by_the_kernel(tmp_path: Path) -> None:
    file = tmp_path / "boot_id"
    file.write_text("0f9c1d5e-7d0b-4c5e-9a55-3f2d8a1b6c77\n")
    assert boot_id(file) == "0f9c1d5e-7d0b-4c5e-9a55-3f2d8a1b6c77"


def test_where_the_kernel_names_no_boot_this_process_is_named(tmp_path: Path) -> None:
    missing = tmp_path / "missing"
    assert boot_id(missing) == boot_id(missing) != ""
