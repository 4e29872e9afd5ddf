"""What the tests of sensors that are read in a child have in common."""

import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Protocol

from hangroom.hardware.child_sensor import ChildSensor, Pace
from hangroom.ports import AirSensor

# A child that is only slow, on a busy machine, is no fault in a test of something else.
QUICK = Pace(read_every_s=0.02, rest_s=0.0, answer_within_s=20.0, longest_back_off_s=0.1)
IMPATIENT = replace(QUICK, answer_within_s=0.5)

# Processes that other tests of this run have open, a browser for example.
OTHERS: set[int] = set()


class Open(Protocol):
    def __call__(self, driver: str, pace: Pace = QUICK, *, kind: str = "dht22") -> ChildSensor: ...


def children() -> list[int]:
    """The processes started by this test, zombies included, as the kernel knows them."""
    found: list[int] = []
    for task in Path("/proc/self/task").iterdir():
        # A thread may end between being listed and being asked.
        with suppress(FileNotFoundError, ProcessLookupError):
            found += [int(pid) for pid in (task / "children").read_text().split()]
    return [pid for pid in found if pid not in OTHERS and not _drives_a_browser(pid)]


def _drives_a_browser(pid: int) -> bool:
    """Of the same worker's browser tests, which keep theirs until the end."""
    with suppress(FileNotFoundError, ProcessLookupError):
        return b"playwright" in Path(f"/proc/{pid}/cmdline").read_bytes()
    return False


def as_port(sensor: AirSensor) -> AirSensor:
    return sensor


def wait_for(what: Callable[[], bool], within_s: float = 60.0) -> None:
    """Wait until that is so; the limit is for what never happens, not for a busy machine."""
    until_s = time.monotonic() + within_s
    while not what():
        assert time.monotonic() < until_s, "did not happen in time"
        time.sleep(0.005)


def failed_by(sensor: AirSensor) -> set[str]:
    return {why for why, times in sensor.faults().items() if times}
