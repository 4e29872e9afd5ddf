from datetime import UTC, datetime, timedelta

import pytest

from hangroom.ports import Clock, Relay
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.relay import SimulatedRelay, Stuck

START = datetime(2026, 4, 1, 12, tzinfo=UTC)


def parts() -> tuple[SimulatedRelay, SimulatedClock]:
    clock = SimulatedClock(start=START, uptime_s=500.0)
    return SimulatedRelay(clock), clock


def test_time_moves_only_when_told_to_and_never_backwards() -> None:
    clock: Clock = SimulatedClock(start=START, uptime_s=500.0)
    assert (clock.now(), clock.uptime_s()) == (START, 500.0)
    clock.wait_until(560.0)
    assert (clock.now(), clock.uptime_s()) == (START + timedelta(seconds=60), 560.0)
    clock.wait_until(510.0)
    assert clock.uptime_s() == 560.0


def test_a_step_of_the_wall_clock_leaves_the_monotonic_one_alone() -> None:
    clock = SimulatedClock(start=START)
    clock.step_wall(-3600.0)
    assert (clock.now(), clock.uptime_s()) == (START - timedelta(hours=1), 0.0)


def test_followers_live_up_to_the_moment_before_the_clock_shows_it() -> None:
    clock = SimulatedClock(start=START)
    seen: list[tuple[float, float]] = []
    clock.follow(lambda until_s: seen.append((until_s, clock.uptime_s())))
    clock.wait_until(2.0)
    clock.wait_until(2.0)
    assert seen == [(2.0, 0.0)]


def test_a_start_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="aware"):
        SimulatedClock(start=datetime(2026, 4, 1))  # noqa: DTZ001  # the point of the test


def test_a_loan_lapses_by_itself_and_can_be_renewed() -> None:
    made, clock = parts()
    relay: Relay = made
    assert not relay.is_closed()
    relay.hold_closed(until_uptime_s=506.0)
    clock.wait_until(505.0)
    assert relay.is_closed()
    relay.hold_closed(until_uptime_s=511.0)
    clock.wait_until(510.0)
    assert relay.is_closed()
    clock.wait_until(511.0)
    assert not relay.is_closed()


def test_opening_is_at_once_and_safe_twice() -> None:
    relay, _ = parts()
    relay.hold_closed(until_uptime_s=600.0)
    relay.open()
    relay.open()
    assert not relay.is_closed()
    relay.hold_closed(until_uptime_s=600.0)
    relay.close_down()
    relay.close_down()
    assert not relay.is_closed()


def test_operations_count_each_change_and_no_renewal() -> None:
    relay, clock = parts()
    relay.hold_closed(until_uptime_s=506.0)
    relay.hold_closed(until_uptime_s=508.0)
    relay.open()
    relay.open()
    relay.hold_closed(until_uptime_s=506.0)
    clock.wait_until(507.0)
    assert relay.operations() == 4


@pytest.mark.parametrize(
    ("stuck", "powered", "flows_when_open", "flows_when_closed"),
    [
        (None, True, False, True),
        (Stuck.CLOSED, True, True, True),
        (Stuck.OPEN, True, False, False),
        (Stuck.CLOSED, False, False, False),
    ],
)
def test_a_broken_contact_does_not_do_what_it_is_told_but_says_what_it_was_told(
    stuck: Stuck | None, *, powered: bool, flows_when_open: bool, flows_when_closed: bool
) -> None:
    relay, _ = parts()
    relay.stuck, relay.powered = stuck, powered
    assert relay.contact_at(500.0) is flows_when_open
    relay.hold_closed(until_uptime_s=600.0)
    assert relay.contact_at(500.0) is flows_when_closed
    assert relay.is_closed()
