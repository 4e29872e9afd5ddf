"""The alarms of the service itself and of what hangs."""

from datetime import datetime, timedelta

import pytest
from loop.alarm_house import CLOSET, HOUR_S, ask, request, run, service, told
from loop.fakes import FINE, START, House

from hangroom.alarm_desk.desk import AlarmDesk
from hangroom.alarm_desk.room_watch import LOOK_EVERY_S
from hangroom.alarm_table.log import SERVICE, of_batch, of_group
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.words import Condition, Event, Tell
from hangroom.control.alarms.batch_conditions import HangingBatch, HangingGroup
from hangroom.control.alarms.service_conditions import DiskSpace
from hangroom.store.requests import Kind, Outcome


def desk(house: House, **given: object) -> AlarmDesk:
    """Return another desk for the same house, which nothing but the service's own looks reach."""
    return AlarmDesk(["closet"], clock=house.clock, journal=house.notes, **given)  # type: ignore[arg-type]


def look(other: AlarmDesk, house: House) -> None:
    house.clock.wait_until(house.clock.uptime_s() + LOOK_EVERY_S)
    now, uptime_s = house.clock.now(), house.clock.uptime_s()
    other.after_a_tick({}, {}, now=now, uptime_s=uptime_s, clock_jump_s=None)


def happened(house: House) -> list[tuple[str, AlarmId, Event]]:
    return [(scope, event.alarm, event.event) for scope, event in house.notes.alarms]


def test_a_jump_of_the_clock_is_an_alarm_of_the_service_and_not_of_each_room(house: House) -> None:
    run(house, 60.0)
    house.clock.step_wall(-3600.0)
    house.tick(FINE)
    assert told(house, SERVICE) == [(62.0, AlarmId.CLOCK_JUMP)]
    assert service(house)[AlarmId.CLOCK_JUMP].figures == {"jump_s": pytest.approx(-3600.0)}
    run(house, 60.0)
    alarm = service(house)[AlarmId.CLOCK_JUMP]
    assert (alarm.condition, alarm.latched) == (Condition.NORMAL, True)
    assert told(house) == []
    ask(house, Kind.ALARM_ACKNOWLEDGE, "", alarm="clock-jump")
    ask(house, Kind.ALARM_RESET, "", alarm="clock-jump", scope=SERVICE)
    house.tick(FINE)
    assert service(house) == {}


def test_notes_that_cannot_be_written_are_an_alarm_until_they_were_for_five_minutes(
    house: House,
) -> None:
    run(house, 120.0)
    house.notes.disk_full = True
    run(house, 120.0)
    assert service(house)[AlarmId.LOG_FULL].why == "not-written"
    house.notes.disk_full = False
    run(house, 290.0)
    assert service(house)[AlarmId.LOG_FULL].condition is Condition.ACTIVE
    run(house, 60.0 + 30.0)
    assert service(house)[AlarmId.LOG_FULL].condition is Condition.NORMAL


def test_a_disk_that_fills_up_is_an_alarm_before_nothing_can_be_written(house: House) -> None:
    space = [DiskSpace(free_bytes=10**9, size_bytes=10**10)]
    other = desk(house, disk=lambda: space[0])
    look(other, house)
    assert happened(house) == []
    space[0] = DiskSpace(free_bytes=10**8, size_bytes=10**10)
    other.flushed(written=True, uptime_s=house.clock.uptime_s())
    look(other, house)
    assert happened(house) == [(SERVICE, AlarmId.LOG_FULL, Event.ACTIVATED)]


@pytest.mark.parametrize(
    ("off_since", "figures"),
    [
        (None, None),
        (START - timedelta(minutes=5), {"gap_s": 300.0}),
        (START + timedelta(days=9), {"gap_s": 0.0}),
    ],
)
def test_a_start_after_another_is_told_once_with_the_gap(
    house: House, off_since: datetime | None, figures: dict[str, float] | None
) -> None:
    other = desk(house, off_since=off_since)
    for _ in range(3):
        look(other, house)
    of_starts = [e for _, e in house.notes.alarms if e.alarm is AlarmId.DAEMON_RESTARTED]
    assert [event.figures for event in of_starts[:1]] == ([] if figures is None else [figures])
    assert [event.tell for event in of_starts].count(Tell.ANNUNCIATE) == (figures is not None)


def batch(*, unseen_h: float = 1.0, a_pct: float | None = 80.0, b: bool = True) -> HangingBatch:
    groups = [HangingGroup(letter="A", yield_pct=a_pct, target_yield_pct=76.0)]
    if b:
        groups.append(HangingGroup(letter="B", yield_pct=62.0, target_yield_pct=62.0))
    return HangingBatch(number=3, unseen_s=unseen_h * HOUR_S, groups=tuple(groups))


def test_a_batch_left_alone_and_a_group_past_its_target_are_alarms_of_their_own(
    house: House,
) -> None:
    other = desk(house)
    look(other, house)
    other.hangs([batch(unseen_h=27.0)])
    look(other, house)
    assert happened(house) == [
        (of_batch(3), AlarmId.INSPECTION_MISSED, Event.ACTIVATED),
        (of_group(3, "B"), AlarmId.BATCH_PAST_TARGET, Event.ACTIVATED),
    ]
    assert {alarm.scope for alarm in other.beside_rooms()} == {"batch 3", "group 3 B"}
    other.hangs([batch(a_pct=75.0)])
    look(other, house)
    assert happened(house)[2:] == [
        (of_batch(3), AlarmId.INSPECTION_MISSED, Event.RETURNED_TO_NORMAL),
        (of_group(3, "A"), AlarmId.BATCH_PAST_TARGET, Event.ACTIVATED),
    ]


def test_what_no_longer_hangs_returns_to_normal_and_leaves_when_it_was_acknowledged(
    house: House,
) -> None:
    other = desk(house)
    other.hangs([batch()])
    look(other, house)
    other.hangs([])
    look(other, house)
    [alarm] = other.beside_rooms()
    assert (alarm.condition, alarm.acknowledged) == (Condition.NORMAL, False)
    body = {"alarm": "batch-past-target", "scope": alarm.scope}
    asked = request(house, Kind.ALARM_ACKNOWLEDGE, "", body)
    outcome, _ = other.acted(asked, START, house.clock.uptime_s())
    assert outcome is Outcome.APPLIED
    look(other, house)
    assert other.beside_rooms() == ()
    assert "group 3 B" not in str(house.notes.kept["alarms"])


def test_a_new_program_leaves_the_alarms_of_batches_as_they_are_until_it_has_looked(
    house: House,
) -> None:
    other = desk(house)
    other.hangs([batch(unseen_h=27.0)])
    look(other, house)
    again = desk(house, kept=house.notes.kept["alarms"])
    house.notes.alarms.clear()
    look(again, house)
    assert {alarm.condition for alarm in again.beside_rooms()} == {Condition.ACTIVE}
    again.hangs([])
    look(again, house)
    assert {event.event for _, event in house.notes.alarms} == {Event.RETURNED_TO_NORMAL}


def test_states_that_cannot_be_understood_begin_anew_and_that_is_noted(house: House) -> None:
    kept = {"sequence": 40, "scopes": {CLOSET: {"alarms": 3}, "moon 1": {}}}
    other = desk(house, kept=kept, sequence=12)
    assert [kind for kind, _ in house.notes.events] == ["alarms-forgotten"] * 2
    other.hangs([batch(unseen_h=27.0)])
    look(other, house)
    assert [event.sequence for _, event in house.notes.alarms] == [41, 42]
    desk(house, kept={"scopes": None})
    assert len(house.notes.events) == 3
