"""The alarms of a room through the real loop: told after the relays, shown, kept."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from random import Random

import pytest
from loop.alarm_house import CLOSET, HIGH, HOUR_S, MOIST, SETTLED_S, ask, run, shown, told
from loop.fakes import PLAN, SOAKED, START, TICK_S, House

from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Suppression
from hangroom.store.requests import Kind
from hangroom.terms import Stage


@pytest.mark.parametrize("seed", range(5))
def test_a_true_excursion_of_6_pct_is_told_within_6_minutes(
    new_house: Callable[..., House], seed: int
) -> None:
    # Noise of a quarter of the DHT22's stated repeatability.
    house, rng = new_house(), Random(seed)
    for away_pct, for_s in ((0.0, 1800.0), (6.0, 360.0)):
        for _ in range(round(for_s / TICK_S)):
            house.tick((13.0, 75.0 + away_pct + rng.gauss(0, 0.25)))
    [(at_s, alarm)] = told(house)
    assert alarm is HIGH
    assert 1800.0 + 300.0 <= at_s <= 1800.0 + 360.0


def test_alarms_are_noted_after_every_relay_was_told(house: House) -> None:
    run(house, SETTLED_S)
    happened = house.tick(MOIST)
    while "note_alarm" not in happened:
        happened = house.tick(MOIST)
    relays = [n for n, entry in enumerate(happened) if entry.startswith(("open ", "close "))]
    assert max(relays) < happened.index("note_alarm")


def test_what_a_person_is_told_of_is_on_the_disk_at_once_and_all_else_within_the_minute(
    house: House,
) -> None:
    run(house, SETTLED_S)
    flushed_before = len(house.notes.flushed_at)
    happened = house.tick(MOIST)
    while not told(house):
        happened = house.tick(MOIST)
    assert happened.index("note_alarm") < happened.index("keep") < happened.index("flush")
    assert "alarms" in house.notes.kept
    for _ in range(29):
        assert "flush" not in house.tick(MOIST)
    assert "flush" in house.tick(MOIST)  # a minute after the early one
    assert len(house.notes.flushed_at) > flushed_before


def test_the_board_shows_what_is_not_normal_since_when_and_by_how_much(house: House) -> None:
    run(house, SETTLED_S)
    assert shown(house) == {}
    run(house, 400.0, MOIST)
    alarm = shown(house)[HIGH]
    assert (alarm.scope, alarm.condition, alarm.acknowledged) == (CLOSET, Condition.ACTIVE, False)
    assert alarm.since_at == START + timedelta(seconds=told(house)[0][0])
    assert alarm.figures == {"seen_pct": 82.0, "limit_pct": 81.0}
    ask(house, Kind.ALARM_ACKNOWLEDGE, alarm=str(HIGH))
    run(house, 10.0, MOIST)
    assert shown(house)[HIGH].acknowledged
    run(house, 200.0)
    assert shown(house) == {}


def test_a_lost_sensor_is_one_alarm_and_none_of_its_consequences(house: House) -> None:
    run(house, SETTLED_S + 400.0, MOIST)
    house.notes.alarms.clear()
    run(house, 3 * HOUR_S, None)
    assert [alarm for _, alarm in told(house)] == [AlarmId.SENSOR_STALE]
    assert shown(house)[HIGH].suppression is Suppression.BY_DESIGN


def test_a_room_that_was_never_watched_before_is_given_time_to_come_to_its_setpoint(
    house: House,
) -> None:
    run(house, 1790.0, MOIST)
    assert told(house) == []
    run(house, 20.0, MOIST)
    [(at_s, alarm)] = told(house)
    assert (alarm, round(at_s, -1)) == (HIGH, 1800)


def test_a_changed_setpoint_gives_the_room_time_before_a_deviation_is_told(house: House) -> None:
    assert PLAN.humidity
    run(house, SETTLED_S)
    drier = replace(PLAN, humidity=replace(PLAN.humidity, setpoint_pct=65.0))
    house.new_plans = {"closet": drier}
    run(house, 1800.0)
    assert told(house) == []
    run(house, 20.0)
    assert [alarm for _, alarm in told(house)] == [HIGH]


def test_a_changed_stage_does_so_too_and_an_override_does_not(house: House) -> None:
    run(house, SETTLED_S)
    house.new_plans = {"closet": replace(PLAN, stir_for_s=1.0)}
    run(house, 400.0, MOIST)
    assert [alarm for _, alarm in told(house)] == [HIGH]
    house.new_plans = {"closet": replace(PLAN, stage=Stage.REST)}
    run(house, 20.0, MOIST)
    assert shown(house)[HIGH].suppression is Suppression.BY_DESIGN


def test_a_hard_limit_is_told_while_the_room_still_settles_in(house: House) -> None:
    assert PLAN.humidity
    run(house, SETTLED_S)
    drier = replace(PLAN, humidity=replace(PLAN.humidity, setpoint_pct=65.0))
    house.new_plans = {"closet": drier}
    run(house, 700.0, SOAKED)
    alarms = {alarm for _, alarm in told(house)}
    assert AlarmId.HUMIDITY_HIGH_HIGH in alarms
    assert HIGH not in alarms
