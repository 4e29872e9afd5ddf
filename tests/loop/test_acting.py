"""What the loop does with the relays, whatever else fails."""

import sqlite3
from collections.abc import Callable
from dataclasses import replace
from itertools import count

import pytest
from loop.fakes import (
    COOLING,
    DRY,
    EXHAUST,
    HEATER,
    HUMIDIFIER,
    LOAN_S,
    PLAN,
    SOAKED,
    House,
)

from hangroom.terms import (
    RelayKind,
    RelayRules,
)


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
    assert once == ["plans_now", "show", "alive"] * 3


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
    new_house: Callable[..., House],
    first: tuple[float, float],
    then: tuple[float, float],
    opened: RelayKind,
    closed: RelayKind,
) -> None:
    # In this order a loop that switched relays as they come would close before it opens.
    rules = {relay: RelayRules(min_on_s=0, min_off_s=0) for relay in (closed, opened)}
    house = new_house(plans=[replace(PLAN, relays=rules)])
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
