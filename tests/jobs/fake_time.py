"""The scheduler that the daemon uses, by a clock that a test moves: a year passes in seconds.

Nothing of APScheduler is copied: its own loop runs, but where it would wait, time passes, and what
a test has planned for that time happens. Its jobs run where they are called for, in no thread.
"""

from collections.abc import Callable
from datetime import datetime, timedelta, tzinfo
from heapq import heappop, heappush
from itertools import count
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from apscheduler.events import EVENT_JOB_ERROR, EVENT_JOB_MAX_INSTANCES, EVENT_JOB_MISSED
from apscheduler.executors.debug import DebugExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.schedulers.base import BaseScheduler
from apscheduler.schedulers.blocking import BlockingScheduler

# A thread that waits is called a little late; never early.
LATE = timedelta(milliseconds=3)
READ_THE_CLOCK = (
    "apscheduler.schedulers.base.datetime",
    "apscheduler.executors.base.datetime",
    "apscheduler.triggers.interval.datetime",
)


class FakeTime:
    """A wall clock that may be wrong, and what happens at which true time.

    `error`: how far the wall clock is ahead of the true time.
    """

    def __init__(self, true: datetime) -> None:
        self.true = true
        self.error = timedelta()
        self._plans: list[tuple[datetime, int, Callable[[], None]]] = []
        self._order = count()

    def wall(self) -> datetime:
        return self.true + self.error

    def plan(self, true: datetime, happens: Callable[[], None]) -> None:
        """Have something happen then; what lies before the beginning never does."""
        if true >= self.true:
            heappush(self._plans, (true, next(self._order), happens))

    def pass_until(self, true: datetime, *, woken: Callable[[], bool]) -> None:
        """Let time pass, and what is planned happen, until then or until somebody is woken."""
        while self._plans and self._plans[0][0] <= true:
            at, _, happens = heappop(self._plans)
            self.true = max(self.true, at)
            happens()
            if woken():
                return
        self.true = max(self.true, true)

    @property
    def is_over(self) -> bool:
        return not self._plans


class Wait:
    """What the scheduler waits on: the passing of the fake time."""

    def __init__(self, time: FakeTime) -> None:
        self._time = time
        self._is_set = False

    def wait(self, seconds: float) -> None:
        if not self._is_set:
            longest = timedelta(days=400).total_seconds()
            until = self._time.true + timedelta(seconds=min(seconds, longest)) + LATE
            self._time.pass_until(until, woken=lambda: self._is_set)

    def set(self) -> None:
        self._is_set = True

    def clear(self) -> None:
        self._is_set = False

    def is_set(self) -> bool:
        return self._is_set


class FakeHouse:
    """Runs the newest scheduler that was made, as its thread would, until nothing is planned.

    `without`: jobs that are left out, because they come every few seconds. `faults`: jobs that
    failed, were missed or were in their own way.
    """

    def __init__(self, time: FakeTime, *, without: tuple[str, ...]) -> None:
        self.time = time
        self._without = without
        self._newest: _Scheduler | None = None
        self.faults: list[Any] = []

    def scheduler(self, *, timezone: ZoneInfo) -> BackgroundScheduler:
        """Make a scheduler as the jobs ask for it."""
        made = _Scheduler(timezone=timezone, executors={"default": DebugExecutor()})
        made.time, made.without = self.time, self._without
        made.add_listener(
            self.faults.append, EVENT_JOB_ERROR | EVENT_JOB_MISSED | EVENT_JOB_MAX_INSTANCES
        )
        self._newest = made
        return made

    def run(self) -> None:
        """Live until nothing is planned any more."""
        while not self.time.is_over:
            if self._newest is not None and self._newest.running:
                self._newest._main_loop()
            else:  # the power is off
                self.time.pass_until(self.time.true + timedelta(minutes=1), woken=lambda: False)


class _Scheduler(BackgroundScheduler):  # type: ignore[misc]  # it ships no types
    """The daemon's scheduler, its thread's loop run by the house, its wait a passing of time."""

    time: FakeTime
    without: tuple[str, ...]

    def start(self) -> None:
        for name in self.without:
            self.remove_job(name)
        self._event = Wait(self.time)
        BaseScheduler.start(self)

    def shutdown(self, wait: bool = True) -> None:
        BlockingScheduler.shutdown(self, wait)


def read_the_clock(time: FakeTime, monkeypatch: pytest.MonkeyPatch) -> None:
    """Have the scheduler read this clock wherever it reads the machine's."""

    class Fake(datetime):
        @classmethod
        def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]  # a plain one
            return time.wall().astimezone(tz)

    for place in READ_THE_CLOCK:
        monkeypatch.setattr(place, Fake)
