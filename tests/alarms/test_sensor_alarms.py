"""The alarms on sensors: a dead one is told in three minutes, a healthy one's silences are not.

That a healthy DHT22 loses 2 % of its reads and falls silent for 30 to 120 s about once a day is the
estimate the simulated sensors are built on; read every 6 s, looked at every 10 s.
"""

from datetime import timedelta
from random import Random

import pytest
from alarms.rooms import BEGAN, reading, seen

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import rows_of
from hangroom.control.alarms.bank import Bank, evaluate, new_bank
from hangroom.control.alarms.conditions import room_conditions
from hangroom.control.alarms.delays import Side
from hangroom.control.alarms.rates import annunciations
from hangroom.terms import AirReading

BEYOND, DEADBAND, WITHIN, UNKNOWN = Side.BEYOND, Side.DEADBAND, Side.WITHIN, Side.UNKNOWN
STALE, DISAGREE = AlarmId.SENSOR_STALE, AlarmId.SENSORS_DISAGREE
LOOK_S, READ_S = 10, 6


def looked(
    bank: Bank, log: list[AlarmEvent], *readings: AirReading | None, uptime_s: float
) -> Bank:
    """Take a bank through one look; extend the log."""
    bank, events = evaluate(
        bank,
        room_conditions(seen(*readings, uptime_s=uptime_s, running_s=uptime_s)),
        uptime_s=uptime_s,
        now=BEGAN + timedelta(seconds=uptime_s),
        sequence=len(log),
    )
    log += events
    return bank


@pytest.mark.parametrize("others", [0, 1], ids=["the only sensor", "one of two"])
@pytest.mark.parametrize("phase_s", range(LOOK_S))
def test_a_dead_sensor_is_told_within_three_minutes(others: int, phase_s: int) -> None:
    bank, log = new_bank(rows_of(Scope.ROOM), uptime_s=0.0), list[AlarmEvent]()
    died_s = 600.0 + phase_s
    for uptime_s in map(float, range(0, 1200, LOOK_S)):
        dead = reading(taken_uptime_s=min(uptime_s, died_s))
        well = [reading(taken_uptime_s=uptime_s)] * others
        bank = looked(bank, log, dead, *well, uptime_s=uptime_s)
    (told,) = annunciations(log)
    assert told.alarm is STALE
    assert told.uptime_s - died_s <= 180.0
    assert told.figures["age_s"] == told.uptime_s - died_s


def test_a_sensor_that_never_answered_is_told_as_soon_as_one_that_died() -> None:
    bank, log = new_bank(rows_of(Scope.ROOM), uptime_s=0.0), list[AlarmEvent]()
    for uptime_s in map(float, range(0, 1200, LOOK_S)):
        bank = looked(bank, log, None, uptime_s=uptime_s)
    (told,) = annunciations(log)
    assert (told.alarm, told.uptime_s) == (STALE, 150.0)


def test_a_hundred_days_of_a_healthy_sensors_silences_are_not_told() -> None:
    rng = Random(5)
    bank, log = new_bank(rows_of(Scope.ROOM), uptime_s=0.0), list[AlarmEvent]()
    longest_s = 0.0
    # One silence every quarter of an hour stands for one a day.
    for number in range(100):
        start_s, silence_s = 900.0 * (number + 1), rng.uniform(30, 120)
        for uptime_s in range(int(start_s), int(start_s) + 900, LOOK_S):
            newest_s = uptime_s - uptime_s % READ_S
            while start_s < newest_s < start_s + silence_s or rng.random() < 0.02:
                newest_s -= READ_S
            longest_s = max(longest_s, uptime_s - newest_s)
            sample = reading(taken_uptime_s=float(newest_s))
            bank = looked(bank, log, sample, uptime_s=float(uptime_s))
    assert longest_s > 100
    assert annunciations(log) == []


@pytest.mark.parametrize(
    ("first", "second", "side"),
    [
        ((78.0, 13.0), (82.0, 13.0), WITHIN),
        ((78.0, 13.0), (82.5, 13.0), DEADBAND),
        ((78.0, 13.0), (83.0, 13.0), BEYOND),
        ((83.0, 13.0), (78.0, 13.0), BEYOND),
        ((78.0, 13.0), (78.0, 14.4), WITHIN),
        ((78.0, 13.0), (78.0, 14.5), BEYOND),
        ((78.0, 13.0), (82.5, 14.5), BEYOND),
    ],
)
def test_sensors_disagree_from_5_pct_or_one_and_a_half_degrees_on(
    first: tuple[float, float], second: tuple[float, float], side: Side
) -> None:
    raw = room_conditions(seen(reading(*first), reading(*second))).raw[DISAGREE]
    assert raw.side is side
    assert raw.figures["highest_pct"] - raw.figures["lowest_pct"] == abs(first[0] - second[0])
    assert raw.figures["highest_c"] == max(first[1], second[1])


def test_whether_two_sensors_agree_is_not_known_while_one_is_not_usable() -> None:
    for bad in (None, reading(99.9), reading(taken_uptime_s=900.0)):
        assert room_conditions(seen(reading(), bad)).raw[DISAGREE].side is UNKNOWN
    assert room_conditions(seen(reading())).raw[DISAGREE].side is WITHIN
    three = (reading(), reading(99.9), reading(86.0))
    assert room_conditions(seen(*three)).raw[DISAGREE].side is BEYOND


def test_an_implausible_sensor_is_told_with_the_reason_and_its_figures() -> None:
    raw = room_conditions(seen(reading(), reading(99.9))).raw[AlarmId.SENSOR_IMPLAUSIBLE]
    assert (raw.side, raw.why, raw.figures) == (BEYOND, "top-of-scale", {"seen_pct": 99.9})
