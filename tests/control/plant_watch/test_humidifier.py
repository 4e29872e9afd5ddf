"""Doses that do nothing, whatever their size, the room and its leaks."""

from random import Random

import pytest
from control.plant_watch.closet import FAN, HUMIDIFIER, Closet

from hangroom.alarm_table.row import AlarmId
from hangroom.control.alarms.delays import Side
from hangroom.terms import RelayKind

INEFFECTIVE = AlarmId.HUMIDIFIER_INEFFECTIVE


def healthy(closet: Closet, *, for_s: float = 6, doses: int = 8) -> Closet:
    closet.live(600)
    closet.runs(HUMIDIFIER, doses, for_s=for_s)
    assert closet.side(INEFFECTIVE) is Side.WITHIN
    return closet


@pytest.mark.parametrize(("g_per_h_m3", "for_s"), [(100, 10), (300, 4)])
def test_what_a_second_of_a_dose_does_is_learned_from_the_room_itself(
    g_per_h_m3: float, for_s: float
) -> None:
    closet = Closet(leaks_per_h=0.3, humidity_pct=60, mist_g_per_h_m3=g_per_h_m3)
    healthy(closet, for_s=for_s, doses=12)
    # Grams an hour into a cubic metre; next to nothing leaks away before it is measured.
    assert closet.memory.doses.effect.gain_g_per_m3_per_s == pytest.approx(
        g_per_h_m3 / 3600, rel=0.15
    )


@pytest.mark.parametrize("for_s", [4, 10, 40, 140])
def test_three_doses_that_do_nothing_are_a_finding_and_two_are_none(for_s: float) -> None:
    closet = healthy(Closet())
    closet.tank_empty = True
    closet.runs(HUMIDIFIER, 2, for_s=for_s)
    assert closet.side(INEFFECTIVE) is Side.WITHIN
    closet.runs(HUMIDIFIER, 1, for_s=for_s)
    assert closet.side(INEFFECTIVE) is Side.BEYOND
    assert closet.raw(INEFFECTIVE).figures["moved_pct"] < 0.5


@pytest.mark.parametrize("for_s", [2, 20])
@pytest.mark.parametrize("leaks_per_h", [1, 3, 10])
def test_a_hundred_healthy_doses_of_another_size_are_no_finding(
    for_s: float, leaks_per_h: float
) -> None:
    closet = Closet(leaks_per_h=leaks_per_h, outside_pct=60, noise=Random(2))
    healthy(closet)
    for _ in range(100):
        # The controller doses where it is too dry.
        while 100 * closet.vapour / closet.saturated > 78:
            closet.live(30)
        closet.runs(HUMIDIFIER, 1, for_s=for_s, rest_s=130)
        assert closet.side(INEFFECTIVE) is not Side.BEYOND


def test_a_healthy_dose_ends_the_finding() -> None:
    closet = healthy(Closet())
    closet.tank_empty = True
    closet.runs(HUMIDIFIER, 5, for_s=6)
    closet.tank_empty = False
    closet.runs(HUMIDIFIER, 1, for_s=6)
    assert closet.side(INEFFECTIVE) is Side.WITHIN


def test_doses_into_an_open_door_are_not_held_against_the_humidifier() -> None:
    closet = healthy(Closet(outside_pct=30))
    closet.door_open = True
    closet.live(120)
    assert closet.findings.door_open
    closet.tank_empty = True
    closet.runs(HUMIDIFIER, 5, for_s=6)
    assert closet.side(INEFFECTIVE) is Side.UNKNOWN
    assert closet.memory.doses.effect.failures == 0


def test_doses_that_fail_hours_apart_do_not_add_up() -> None:
    # Each may have met another opened door; an empty tank leaves a room too dry, and doses follow.
    closet = healthy(Closet())
    closet.tank_empty = True
    for _ in range(4):
        closet.live(7500)
        closet.runs(HUMIDIFIER, 1, for_s=6)
        assert closet.side(INEFFECTIVE) is Side.WITHIN


def test_a_dose_given_into_a_fall_that_nothing_explains_is_not_judged() -> None:
    # Soon after a run of the fan nobody can tell a door; the air falls by a third of the way in 40 s.
    closet = healthy(Closet(outside_pct=30))
    before = closet.memory.doses.effect
    closet.live(20, FAN)
    closet.door_open = True
    closet.live(40)
    closet.live(4, HUMIDIFIER)
    closet.live(16)
    closet.door_open = False
    closet.live(120)
    assert not closet.findings.door_open
    assert closet.memory.doses.effect == before


def test_a_dose_while_the_air_still_comes_back_from_an_open_door_is_not_judged() -> None:
    closet = healthy(Closet(given_off_per_h=10))
    before = closet.memory.doses.effect
    closet.door_open = True
    closet.live(300)
    closet.door_open = False
    closet.live(120)
    while closet.findings.door_open:
        closet.live(10)
    closet.live(6, HUMIDIFIER)
    closet.live(120)
    assert closet.memory.doses.effect == before


def test_a_dose_too_small_to_show_tells_nothing() -> None:
    # 2 s of 60 g/h are 0.03 g in a cubic metre: a quarter of 1 %RH, less than the sensor's noise.
    closet = healthy(Closet(mist_g_per_h_m3=60), for_s=30)
    closet.tank_empty = True
    closet.runs(HUMIDIFIER, 6, for_s=2)
    assert closet.memory.doses.effect.failures == 0


def test_before_any_dose_has_worked_it_takes_a_minute_of_running_altogether() -> None:
    closet = Closet(tank_empty=True)
    closet.live(600)
    closet.runs(HUMIDIFIER, 3, for_s=10)
    assert closet.side(INEFFECTIVE) is Side.WITHIN
    closet.runs(HUMIDIFIER, 1, for_s=30)
    assert closet.side(INEFFECTIVE) is Side.BEYOND


def test_a_long_dose_that_does_nothing_is_looked_at_while_it_runs() -> None:
    closet = healthy(Closet())
    closet.tank_empty = True
    found_s = closet.found_within_s(INEFFECTIVE, 900, HUMIDIFIER)
    assert found_s is not None
    assert found_s <= 600  # three looks of three minutes each


def test_a_dose_while_the_compressor_starts_is_not_judged() -> None:
    closet = healthy(Closet(relays=tuple(RelayKind)))
    effect = closet.memory.doses.effect
    closet.tank_empty = True
    for _ in range(4):
        closet.live(6, HUMIDIFIER)
        closet.live(20)
        closet.live(120, RelayKind.COOLING)
        closet.live(120)
    assert closet.memory.doses.effect == effect
