"""A bank of alarms over time: what is told, what is expected, what is told again."""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

import pytest

from hangroom.alarm_table.log import AlarmEvent
from hangroom.alarm_table.row import AlarmId, Scope
from hangroom.alarm_table.table import TABLE, rows_of
from hangroom.alarm_table.words import Event, Tell
from hangroom.control.alarms.acts import Act, acknowledge, begin_inspection, end_inspection
from hangroom.control.alarms.bank import Bank, Conditions, evaluate, new_bank, settling_in
from hangroom.control.alarms.delays import Raw, Side

BEGAN = datetime(2026, 11, 1, tzinfo=UTC)
HIGH, HARD = AlarmId.HUMIDITY_HIGH, AlarmId.TEMPERATURE_HIGH_HIGH


def room(*, started_s: float = -1e6) -> Bank:
    """Return the bank of a room, by default one that has long been running."""
    return new_bank(rows_of(Scope.ROOM), uptime_s=started_s)


def run(
    bank: Bank, seconds: Iterable[float], *beyond: AlarmId, blind: bool = False
) -> tuple[Bank, list[AlarmEvent]]:
    """Evaluate at these seconds; the alarms named are past their limit, the others within."""
    raw = {id_: Raw(Side.BEYOND if id_ in beyond else Side.WITHIN) for id_ in bank.alarms}
    if blind:
        raw = {AlarmId.SENSOR_STALE: Raw(Side.BEYOND)}
    log: list[AlarmEvent] = []
    for uptime_s in seconds:
        bank, events = evaluate(
            bank,
            Conditions(raw=raw, blind=blind),
            uptime_s=uptime_s,
            now=BEGAN + timedelta(seconds=uptime_s),
            sequence=len(log),
        )
        log += events
    return bank, log


def told(log: list[AlarmEvent]) -> list[tuple[float, AlarmId]]:
    """Return when which alarm was annunciated."""
    return [(event.uptime_s, event.alarm) for event in log if event.tell is Tell.ANNUNCIATE]


def every(step_s: int, until_s: int, since_s: int = 0) -> Iterable[float]:
    return map(float, range(since_s, until_s + 1, step_s))


def test_one_alarm_is_told_once_after_its_delay() -> None:
    _, log = run(room(), every(2, 1200), HIGH)
    assert told(log) == [(300.0, HIGH)]
    assert [event.sequence for event in log] == [1]


def test_an_alarm_that_was_not_looked_at_keeps_its_state() -> None:
    bank, _ = run(room(), every(100, 300), HIGH)
    bank, events = evaluate(bank, Conditions(raw={}), uptime_s=9000.0, now=BEGAN, sequence=0)
    assert events == ()
    assert bank.alarms[HIGH].state.display == "active, unacknowledged"


def test_for_five_minutes_after_a_start_only_hard_limits_and_faults_are_told() -> None:
    chatter, fan = AlarmId.RELAY_CHATTER, AlarmId.FAN_INEFFECTIVE
    bank, log = run(room(started_s=0.0), every(2, 298), HIGH, HARD, chatter, fan)
    assert sorted(told(log)) == [(0.0, chatter), (60.0, HARD)]
    assert bank.alarms[fan].state.display == "suppressed by design"


def test_the_log_is_spared_what_is_suppressed_and_normal_all_the_time() -> None:
    _, log = run(room(started_s=0.0), every(2, 400), HARD)
    assert {event.alarm for event in log} == {HARD}


def test_what_is_still_active_when_a_start_is_over_is_told_then() -> None:
    _, log = run(room(started_s=0.0), every(2, 400), HIGH)
    assert told(log) == [(300.0, HIGH)]


def test_a_lost_sensor_is_told_and_its_consequences_are_not() -> None:
    bank, _ = run(room(), every(2, 400, -400), HIGH)
    bank, log = run(bank, every(2, 600, 402), blind=True)
    assert told(log) == [(402.0 + TABLE[AlarmId.SENSOR_STALE].on_delay_s, AlarmId.SENSOR_STALE)]
    assert bank.alarms[HIGH].state.display == "suppressed by design"
    bank, log = run(bank, every(2, 660, 602), HIGH)
    assert bank.alarms[HIGH].state.display == "suppressed by design"
    bank, log = run(bank, [662.0], HIGH)  # the air has been known again for a minute
    assert bank.alarms[HIGH].state.display == "active, unacknowledged"
    assert told(log) == []  # it was told before the sensor was lost


def test_what_turned_active_behind_a_suppression_is_told_at_its_end() -> None:
    bank = begin_inspection(room(), for_s=600.0, uptime_s=0.0)
    _, log = run(bank, every(2, 700), HIGH)
    assert told(log) == [(600.0, HIGH)]


def opened(bank: Bank, seconds: Iterable[float], *, door: bool) -> tuple[Bank, list[AlarmEvent]]:
    """Evaluate with a deviation and a hard limit passed, and a door that seems open or shut."""
    raw = {HIGH: Raw(Side.BEYOND), HARD: Raw(Side.BEYOND)}
    log: list[AlarmEvent] = []
    for uptime_s in seconds:
        seen = Conditions(raw=raw, door_open=door)
        bank, events = evaluate(bank, seen, uptime_s=uptime_s, now=BEGAN, sequence=0)
        log += events
    return bank, log


def test_for_a_quarter_of_an_hour_after_a_door_was_opened_nothing_is_told_of_the_air() -> None:
    bank, log = opened(room(), every(10, 60), door=True)
    bank, more = opened(bank, every(10, 890, 70), door=False)
    assert told(log) == told(more) == []
    _, log = opened(bank, [900.0], door=False)
    assert {alarm for _, alarm in told(log)} == {HIGH, HARD}


def test_a_door_that_stays_open_hides_nothing_for_longer_than_one_that_was_shut() -> None:
    _, log = opened(room(), every(10, 9000), door=True)
    assert [(at_s, alarm) for at_s, alarm in told(log) if alarm is HIGH] == [(900.0, HIGH)]


def test_the_next_opening_is_given_its_own_time() -> None:
    bank, _ = opened(room(), every(10, 60), door=True)
    bank, _ = opened(bank, every(10, 1000, 70), door=False)
    bank, log = opened(bank, every(10, 1900, 1010), door=True)
    assert bank.alarms[HIGH].state.display == "suppressed by design"
    assert told(log) == []


def test_a_single_bad_sample_neither_hides_nor_tells_anew() -> None:
    bank, _ = run(room(), every(2, 400), HIGH)
    bank, log = run(bank, [402.0, 404.0], blind=True)
    assert log == []
    bank, log = run(bank, every(2, 500, 406), HIGH)
    assert told(log) == []
    assert bank.alarms[HIGH].state.display == "active, unacknowledged"


def test_a_hard_limit_that_was_passed_stays_in_sight_when_the_sensor_is_lost() -> None:
    bank, _ = run(room(), every(2, 100), HARD)
    bank, _ = run(bank, every(2, 400, 102), blind=True)
    assert bank.alarms[HARD].state.display == "active, unacknowledged"


def test_an_inspection_hides_what_an_open_door_does_and_ends_by_itself() -> None:
    bank = begin_inspection(room(), for_s=900.0, uptime_s=0.0)
    bank, log = run(bank, every(2, 898), HIGH, HARD)
    assert told(log) == []
    assert {event.alarm for event in log if event.event is Event.ACTIVATED} == {HIGH, HARD}
    _, log = run(bank, [900.0], HIGH, HARD)
    assert {alarm for _, alarm in told(log)} == {HIGH, HARD}


def test_what_has_passed_when_an_inspection_ends_is_not_told() -> None:
    bank = begin_inspection(room(), for_s=900.0, uptime_s=0.0)
    bank, _ = run(bank, every(2, 600), HIGH)
    bank, log = run(bank, every(2, 800, 602))
    bank, end = run(end_inspection(bank), [802.0])
    assert told(log) == told(end) == []
    assert bank.alarms[HIGH].state.display == "normal"


def test_an_alarm_that_turns_active_as_its_suppression_begins_is_not_told() -> None:
    bank, _ = run(room(), every(2, 298), HIGH)
    _, log = run(begin_inspection(bank, for_s=60.0, uptime_s=299.0), [300.0], HIGH)
    assert Event.ACTIVATED in {event.event for event in log}
    assert told(log) == []


def test_an_alarm_that_turns_normal_as_its_suppression_ends_is_not_told() -> None:
    bank = begin_inspection(room(), for_s=800.0, uptime_s=0.0)
    bank, _ = run(bank, every(2, 678), HIGH)
    _, log = run(bank, every(2, 800, 680))
    assert [event.event for event in log if event.alarm is HIGH] == [
        Event.RETURNED_TO_NORMAL,
        Event.UNSUPPRESSED,
    ]
    assert log[-1].uptime_s == 800.0
    assert told(log) == []


def test_a_room_has_half_an_hour_to_come_to_what_is_newly_asked_of_it() -> None:
    bank = settling_in(room(), uptime_s=0.0)
    bank, log = run(bank, every(2, 1798), HIGH, HARD)
    assert told(log) == [(60.0, HARD)]  # a hard limit is none of the deviations
    bank, log = run(bank, [1800.0], HIGH, HARD)
    assert told(log) == [(1800.0, HIGH)]


def test_what_has_come_to_its_new_setpoint_by_then_is_never_told() -> None:
    bank = settling_in(room(), uptime_s=0.0)
    bank, log = run(bank, every(2, 1200), HIGH)
    bank, rest = run(bank, every(2, 3600, 1202))
    assert told(log) == told(rest) == []
    assert bank.alarms[HIGH].state.display == "normal"


def test_a_look_at_which_nothing_moves_returns_the_very_same_bank() -> None:
    bank, _ = run(room(), [0.0])
    assert run(bank, every(10, 100))[0] is bank


def test_an_alarm_knows_when_its_condition_turned_and_what_brought_it_on() -> None:
    bank = room()
    brought = Raw(Side.BEYOND, {"seen_pct": 86.0}, why="outside-too-moist")
    for uptime_s in (0.0, 300.0, 400.0):
        at = BEGAN + timedelta(seconds=uptime_s)
        raw = brought if uptime_s < 400.0 else Raw(Side.BEYOND, {"seen_pct": 90.0})
        bank, _ = evaluate(bank, Conditions(raw={HIGH: raw}), uptime_s=uptime_s, now=at, sequence=0)
    assert bank.alarms[HIGH].turned_at == BEGAN + timedelta(seconds=300)
    assert bank.alarms[HIGH].came_on == brought


@pytest.mark.parametrize(
    ("alarm", "quiet_s"),
    [(AlarmId.SENSOR_STALE, 4 * 3600.0), (HIGH, 24 * 3600.0), (AlarmId.RELAY_CHATTER, None)],
)
def test_an_alarm_that_stays_is_told_again_after_its_priority_s_time(
    alarm: AlarmId, quiet_s: float | None
) -> None:
    bank, _ = run(room(), every(60, 600), alarm)
    act = Act(alarm=alarm, by="keeper", uptime_s=600.0, now=BEGAN, sequence=0)
    bank, _ = acknowledge(bank, act)
    bank, log = run(bank, every(60, 600 + 25 * 3600, 660), alarm)
    again = [event.uptime_s - 600.0 for event in log if event.tell is Tell.ANNUNCIATE_AGAIN]
    assert again[:1] == ([] if quiet_s is None else [quiet_s])
    assert told(log) == []  # telling again is no new alarm
    expected = "active, acknowledged" if quiet_s is None else "active, unacknowledged"
    assert bank.alarms[alarm].state.display == expected
