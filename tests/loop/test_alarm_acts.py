"""What a person does with an alarm, as the page asks it of the daemon."""

import re
from datetime import timedelta

import pytest
from loop.alarm_house import HIGH, HOUR_S, MOIST, SETTLED_S, ask, request, run, shown, told
from loop.fakes import FINE, START, House

from hangroom.alarm_desk.room_watch import LOOK_EVERY_S
from hangroom.alarm_table.words import Event, Suppression
from hangroom.store.requests import Kind, Outcome


def test_an_announced_inspection_tells_nothing_of_the_open_door_and_is_shown_and_noted(
    house: House,
) -> None:
    run(house, SETTLED_S)
    outcome, said = ask(house, Kind.INSPECTION_BEGIN, for_s=900)
    assert (outcome, said) == (Outcome.APPLIED, "An open door makes no alarm for 15 min.")
    ends_at = house.clock.now() + timedelta(seconds=900)
    run(house, 600.0, MOIST)
    assert told(house) == []
    assert house.boards[-1].rooms["closet"].inspection_ends_at == ends_at
    ask(house, Kind.INSPECTION_END)
    run(house, 10.0, MOIST)
    assert [alarm for _, alarm in told(house)] == [HIGH]
    assert house.boards[-1].rooms["closet"].inspection_ends_at is None
    assert [kind for kind, _ in house.notes.events] == ["inspection-begun", "inspection-ended"]


@pytest.mark.parametrize(
    ("kind", "room", "body", "answer"),
    [
        (Kind.INSPECTION_BEGIN, "closet", {"for_s": 901}, "lasts 15 min at most"),
        (Kind.INSPECTION_BEGIN, "closet", {"for_s": "long"}, "no 'for_s' as a number"),
        (Kind.INSPECTION_BEGIN, "", {"for_s": 60}, "no alarms of 'room '"),
        (Kind.INSPECTION_BEGIN, "attic", {"for_s": 60}, "no alarms of 'room attic'"),
        (Kind.ALARM_ACKNOWLEDGE, "closet", {"alarm": "no-such"}, "'alarm' must be one of"),
        (Kind.ALARM_ACKNOWLEDGE, "closet", {"alarm": 3}, "'alarm' must be one of"),
        (Kind.ALARM_ACKNOWLEDGE, "closet", {"alarm": "log-full"}, "no alarm log-full here"),
        (Kind.ALARM_ACKNOWLEDGE, "", {"alarm": str(HIGH)}, "no alarm humidity-high here"),
        (Kind.ALARM_ACKNOWLEDGE, "", {"alarm": "log-full", "scope": [1]}, "nothing under 'scope'"),
        (Kind.ALARM_RESET, "closet", {"alarm": str(HIGH)}, "still active. Mend its cause"),
        (Kind.ALARM_SHELVE, "closet", {"alarm": str(HIGH), "for_s": 60}, "under 'why'"),
        (
            Kind.ALARM_SHELVE,
            "closet",
            {"alarm": str(HIGH), "for_s": 9 * HOUR_S, "why": "x"},
            "for 8 h at most",
        ),
        (Kind.ALARM_UNSHELVE, "closet", {"alarm": str(HIGH)}, "is not shelved"),
        (Kind.OVERRIDE, "closet", {"alarm": str(HIGH)}, "do not know how to do"),
    ],
)
def test_a_refusal_says_why_and_changes_nothing(
    house: House, kind: Kind, room: str, body: dict[str, object], answer: str
) -> None:
    run(house, SETTLED_S)
    run(house, 400.0, MOIST)
    before = list(house.notes.alarms)
    outcome, said = ask(house, kind, room, **body)
    assert outcome is Outcome.REFUSED
    assert re.search(answer, said), said
    assert house.notes.alarms == before


def test_a_body_that_is_no_table_is_refused(house: House) -> None:
    asked = request(house, Kind.ALARM_SHELVE, "", 3)
    assert house.alarms.acted(asked, START, 0.0)[0] is Outcome.REFUSED


def test_each_act_is_noted_with_who_did_it_and_why(house: House) -> None:
    run(house, SETTLED_S)
    run(house, 400.0, MOIST)
    for kind, body in (
        (Kind.ALARM_SHELVE, {"for_s": 600, "why": " waiting for\na part "}),
        (Kind.ALARM_UNSHELVE, {}),
        (Kind.ALARM_OUT_OF_SERVICE, {"why": "new sensor"}),
        (Kind.ALARM_INTO_SERVICE, {}),
        (Kind.ALARM_ACKNOWLEDGE, {}),
    ):
        outcome, _ = ask(house, kind, alarm=str(HIGH), **body)
        assert outcome is Outcome.APPLIED
    acts = [(e.event, e.by, e.reason) for _, e in house.notes.alarms if e.by]
    assert acts == [
        (Event.SHELVED, "keeper", "waiting for a part"),
        (Event.UNSHELVED, "keeper", ""),
        (Event.TAKEN_OUT_OF_SERVICE, "keeper", "new sensor"),
        (Event.RETURNED_TO_SERVICE, "keeper", ""),
        (Event.ACKNOWLEDGED, "keeper", ""),
    ]
    assert "flush" in house.tick(MOIST)
    sequences = [event.sequence for _, event in house.notes.alarms]
    assert sequences == list(range(1, len(sequences) + 1))


def test_a_shelf_is_shown_with_who_why_and_until_when_and_ends_by_itself(house: House) -> None:
    run(house, SETTLED_S)
    run(house, 400.0, MOIST)
    ask(house, Kind.ALARM_SHELVE, alarm=str(HIGH), for_s=600, why="a part is ordered")
    ends_at = house.clock.now() + timedelta(seconds=600)
    house.tick(MOIST)
    alarm = shown(house)[HIGH]
    assert (alarm.suppression, alarm.held_by) == (Suppression.SHELVED, "keeper")
    assert (alarm.held_why, alarm.held_until) == ("a part is ordered", ends_at)
    house.notes.alarms.clear()
    run(house, 600.0 + LOOK_EVERY_S, MOIST)
    assert [alarm for _, alarm in told(house)] == [HIGH]


def test_a_shelf_s_end_is_shown_on_the_new_time_when_the_clock_is_set(house: House) -> None:
    run(house, SETTLED_S)
    ask(house, Kind.ALARM_SHELVE, alarm=str(HIGH), for_s=600, why="x")
    ends_at = house.clock.now() + timedelta(seconds=600)
    house.clock.step_wall(3600.0)
    house.tick(FINE)
    assert shown(house)[HIGH].held_until == ends_at + timedelta(hours=1)
