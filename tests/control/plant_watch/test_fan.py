"""Runs of the exhaust fan that do nothing, and weather that lets none do anything."""

import pytest
from control.plant_watch.closet import FAN, HUMIDIFIER, Closet

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.delays import Side
from hangroom.terms import RelayKind

INEFFECTIVE = AlarmId.FAN_INEFFECTIVE


def wet_closet(*, outside_known: bool = True) -> Closet:
    """Fresh sticks bring the air up again after each run, at 10 times the closet's air an hour."""
    return Closet(given_off_per_h=10, outside_known=outside_known, humidity_pct=82)


def healthy(closet: Closet, *, runs: int = 8) -> Closet:
    closet.live(600)
    closet.runs(FAN, runs, for_s=20, rest_s=180)
    assert closet.side(INEFFECTIVE) is Side.WITHIN
    return closet


@pytest.mark.parametrize("outside_known", [True, False])
@pytest.mark.parametrize("for_s", [16, 60])
def test_three_runs_that_do_nothing_are_a_finding_and_two_are_none(
    outside_known: bool, for_s: float
) -> None:
    closet = healthy(wet_closet(outside_known=outside_known))
    closet.fan_dead = True
    closet.runs(FAN, 2, for_s=for_s, rest_s=180)
    assert closet.side(INEFFECTIVE) is Side.WITHIN
    closet.runs(FAN, 1, for_s=for_s, rest_s=180)
    assert closet.side(INEFFECTIVE) is Side.BEYOND
    closet.fan_dead = False
    closet.runs(FAN, 1, for_s=for_s, rest_s=180)
    assert closet.side(INEFFECTIVE) is Side.WITHIN


def test_a_run_without_end_that_does_nothing_is_a_finding_within_ten_minutes() -> None:
    closet = healthy(wet_closet())
    closet.fan_dead = True
    found_s = closet.found_within_s(INEFFECTIVE, 1800, FAN)
    assert found_s is not None
    assert found_s <= 600


@pytest.mark.parametrize("outside_known", [True, False])
def test_a_fan_is_not_blamed_for_weather_that_turns_wet_within_hours(outside_known: bool) -> None:
    # Vapour outside goes from 50 % to 100 % at 15 degC in 4 h, and stays there: 6.4 to 12.8 g/m3.
    closet = healthy(wet_closet(outside_known=outside_known))
    for minute in range(0, 360, 4):
        closet.outside_pct = min(100.0, 50 + 50 * minute / 240)
        closet.runs(FAN, 1, for_s=20, rest_s=220)
        assert closet.side(INEFFECTIVE) is not Side.BEYOND


def test_weather_that_turned_wet_while_the_fan_rested_is_reckoned_with_where_it_is_known() -> None:
    # From 50 % to 78 % outside: of 4.1 g/m3 that it is drier there, half a gram is left.
    closet = healthy(wet_closet())
    closet.given_off_per_h = 0.0
    closet.leaks_per_h = 0.001
    closet.outside_pct = 78
    closet.live(3600)
    for _ in range(6):
        closet.vapour = 0.82 * closet.saturated
        closet.live(300)
        closet.runs(FAN, 1, for_s=20, rest_s=120)
    assert closet.side(INEFFECTIVE) is Side.WITHIN


def test_where_the_air_outside_is_never_known_a_fan_that_never_did_anything_is_not_judged() -> None:
    closet = wet_closet(outside_known=False)
    closet.fan_dead = True
    closet.live(600)
    closet.runs(FAN, 6, for_s=60, rest_s=180)
    assert closet.side(INEFFECTIVE) is Side.UNKNOWN


def test_a_dead_fan_is_found_from_the_start_where_it_is_known_to_be_drier_outside() -> None:
    closet = wet_closet()
    closet.fan_dead = True
    closet.live(600)
    closet.runs(FAN, 4, for_s=60, rest_s=180)
    assert closet.side(INEFFECTIVE) is Side.BEYOND


def test_what_the_fan_did_days_ago_says_nothing_where_the_air_outside_is_not_known() -> None:
    closet = healthy(wet_closet(outside_known=False))
    closet.fan_dead = True
    closet.live(4 * 3600)
    closet.runs(FAN, 5, for_s=20, rest_s=180)
    assert closet.memory.airing.effect.failures == 0


def test_short_rests_in_an_endless_airing_are_not_taken_for_runs_that_fail() -> None:
    # The room is where the fan can bring it; a run only undoes what a rest of 90 s has done.
    closet = healthy(wet_closet())
    closet.given_off_per_h = 2
    for _ in range(4):
        closet.live(1800, FAN)
        closet.live(90)
        assert closet.side(INEFFECTIVE) is Side.WITHIN


def test_a_fan_that_dies_while_casings_dry_is_found_and_found_well_again() -> None:
    closet = wet_closet()
    closet.humidity = None
    closet.live(600)
    closet.live(3600, FAN)
    closet.fan_dead = True
    found_s = closet.found_within_s(INEFFECTIVE, 1800, FAN)
    assert found_s is not None
    assert found_s <= 900
    closet.fan_dead = False
    closet.live(1200, FAN)
    assert closet.side(INEFFECTIVE) is Side.WITHIN


def test_a_run_soon_after_a_dose_is_not_judged() -> None:
    closet = healthy(wet_closet())
    before = closet.memory.airing.effect
    closet.fan_dead = True
    for _ in range(4):
        closet.live(10, HUMIDIFIER)
        closet.live(60)
        closet.live(20, FAN)
        closet.live(200)
    assert closet.memory.airing.effect == before


def test_in_a_cooled_room_the_coil_would_mislead_unless_the_air_outside_is_known() -> None:
    closet = wet_closet(outside_known=False)
    closet.relays = (FAN, RelayKind.COOLING)
    closet.live(600)
    closet.runs(FAN, 8, for_s=20, rest_s=180)
    assert closet.memory.airing.effect.gain_g_per_m3_per_s is None
