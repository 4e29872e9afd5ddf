"""A compressor that no longer cools, and one that only has too much to do."""

import pytest
from control.plant_watch.closet import COOLING, Closet

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.delays import Side
from hangroom.terms import TemperatureTarget

INEFFECTIVE = AlarmId.COOLING_INEFFECTIVE
FRIDGE = TemperatureTarget(setpoint_c=4, band_c=1, low_limit_c=0, high_limit_c=12)


def fridge(**kwargs: float) -> Closet:
    """Warms by a quarter of the way to 20 degC in an hour; cooling is 40 degC an hour."""
    closet = Closet(
        temperature_c=4,
        outside_c=20,
        relays=(COOLING,),
        humidity=None,
        temperature=FRIDGE,
        cooling_c_per_h=40,
    )
    for name, value in kwargs.items():
        setattr(closet, name, value)
    return closet


def cycles(closet: Closet, count: int) -> None:
    """Cool from 5 down to 3 degC, as a controller would, with a rest of at least five minutes."""
    for _ in range(count):
        closet.live(300)
        while closet.temperature_c < 5:
            closet.live(30)
        for _ in range(180):
            if closet.temperature_c <= 3:
                break
            closet.live(30, COOLING)


def test_cycles_of_a_healthy_fridge_are_no_finding() -> None:
    closet = fridge()
    cycles(closet, 6)
    assert closet.side(INEFFECTIVE) is Side.WITHIN


def test_half_an_hour_of_cooling_that_cools_nothing_is_a_finding_and_twenty_minutes_are_none() -> (
    None
):
    closet = fridge()
    cycles(closet, 2)
    closet.live(1800)
    closet.compressor_dead = True
    assert closet.live(1200, COOLING).raw[INEFFECTIVE].side is Side.WITHIN
    assert closet.live(630, COOLING).raw[INEFFECTIVE].side is Side.BEYOND
    closet.compressor_dead = False
    assert closet.live(300, COOLING).raw[INEFFECTIVE].side is Side.WITHIN


def test_short_runs_that_cool_nothing_add_up() -> None:
    closet = fridge()
    cycles(closet, 2)
    closet.live(1800)
    closet.compressor_dead = True
    for _ in range(7):
        closet.live(300, COOLING)
        closet.live(300)
    assert closet.side(INEFFECTIVE) is Side.BEYOND


def test_one_at_its_limit_in_a_hot_place_is_none() -> None:
    # At 34 degC the room gains 7.5 degC an hour at 4 degC, and 8 can be taken out of it: it comes
    # to rest at 2 degC. Each run undoes what a rest of ten minutes has warmed.
    closet = fridge(outside_c=34.0, cooling_c_per_h=8.0, temperature_c=4.0)
    for _ in range(6):
        closet.live(5400, COOLING)
        closet.live(600)
        assert closet.side(INEFFECTIVE) is not Side.BEYOND


def test_cooling_below_the_setpoint_need_not_make_it_any_colder() -> None:
    closet = fridge(cooling_c_per_h=4.0, temperature_c=3.5, outside_c=19.5)  # gains just as much
    closet.live(7200, COOLING)
    assert closet.side(INEFFECTIVE) is Side.UNKNOWN


def test_a_run_with_the_door_open_does_not_count() -> None:
    closet = fridge()
    cycles(closet, 2)
    closet.live(1800)
    closet.door_open = True
    closet.live(3600, COOLING)
    assert closet.side(INEFFECTIVE) is Side.UNKNOWN
    closet.door_open = False
    closet.live(1200, COOLING)
    assert closet.memory.cooling.idle_s == pytest.approx(0, abs=180)
