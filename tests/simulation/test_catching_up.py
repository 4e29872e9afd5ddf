"""A clock that makes the past fast and then goes on with the machine's."""

from datetime import UTC, datetime, timedelta

import pytest

from hangroom.ports import Clock
from hangroom.simulation.catching_up import CatchingUpClock

NOW = datetime(2026, 11, 1, 7, 0, tzinfo=UTC)


class FakeMachine:
    """The real clocks, moved by hand; waiting takes as long as it says unless `wakes_at_s`."""

    def __init__(self) -> None:
        self.at_s = 5000.0
        self.waited_for: list[float] = []
        self.wakes_at_s: float | None = None

    def now(self) -> datetime:
        return NOW + timedelta(seconds=self.at_s - 5000.0)

    def uptime_s(self) -> float:
        return self.at_s

    def wait_until(self, uptime_s: float) -> None:
        self.waited_for.append(uptime_s)
        self.at_s = uptime_s if self.wakes_at_s is None else self.wakes_at_s


@pytest.fixture
def machine() -> FakeMachine:
    return FakeMachine()


def test_it_fits_the_port(machine: FakeMachine) -> None:
    clock: Clock = CatchingUpClock(machine, behind_s=0.0)
    assert clock.uptime_s() == 5000.0


def test_it_starts_in_the_past_on_both_clocks(machine: FakeMachine) -> None:
    clock = CatchingUpClock(machine, behind_s=3600.0)
    assert clock.uptime_s() == 1400.0
    assert clock.now() == NOW - timedelta(hours=1)
    assert clock.behind_s() == 3600.0
    assert clock.done_ratio() == 0.0


def test_the_past_is_made_without_waiting(machine: FakeMachine) -> None:
    clock = CatchingUpClock(machine, behind_s=3600.0)
    lived: list[tuple[float, float]] = []
    clock.follow(lambda uptime_s: lived.append((uptime_s, clock.uptime_s())))
    for uptime_s in (1402.0, 1404.0, 5000.0):
        clock.wait_until(uptime_s)
        assert clock.uptime_s() == uptime_s
    # Followers live until each moment before the clock shows it.
    assert lived == [(1402.0, 1400.0), (1404.0, 1402.0), (5000.0, 1404.0)]
    assert machine.waited_for == []
    assert clock.now() == NOW


def test_how_much_is_done_takes_in_that_the_world_goes_on(machine: FakeMachine) -> None:
    clock = CatchingUpClock(machine, behind_s=100.0)
    clock.wait_until(4950.0)
    assert clock.done_ratio() == pytest.approx(0.5)
    machine.at_s += 50.0  # making the past took fifty seconds
    assert clock.behind_s() == 100.0
    assert clock.done_ratio() == pytest.approx(1 / 3)
    clock.wait_until(5050.0)
    assert clock.behind_s() == 0.0
    assert clock.done_ratio() == 1.0


def test_once_it_has_caught_up_it_waits_for_real(machine: FakeMachine) -> None:
    clock = CatchingUpClock(machine, behind_s=10.0)
    clock.wait_until(5000.0)
    clock.wait_until(5002.0)
    assert machine.waited_for == [5002.0]
    assert clock.uptime_s() == 5002.0
    assert clock.now() == NOW + timedelta(seconds=2)


def test_woken_early_it_shows_the_machine_s_time_and_not_the_one_waited_for(
    machine: FakeMachine,
) -> None:
    clock = CatchingUpClock(machine, behind_s=0.0)
    lived: list[float] = []
    clock.follow(lived.append)
    machine.wakes_at_s = 5000.5
    clock.wait_until(5002.0)
    assert clock.uptime_s() == 5000.5
    assert lived == [5000.5]


@pytest.mark.parametrize("behind_s", [0.0, 100.0])
def test_a_moment_already_past_changes_nothing(machine: FakeMachine, behind_s: float) -> None:
    clock = CatchingUpClock(machine, behind_s=behind_s)
    lived: list[float] = []
    clock.follow(lived.append)
    before_s = clock.uptime_s()
    clock.wait_until(before_s - 5.0)
    clock.wait_until(before_s)
    assert clock.uptime_s() == before_s
    assert lived == []
