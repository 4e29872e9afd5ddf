"""Wishes from the page: asked once, answered in place; setpoints kept."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlite_utils import Database

from hangroom.store.requests import (
    EXPIRES_AFTER,
    Outcome,
    Request,
    answer,
    ask,
    newest_request,
    open_requests,
    request_by_number,
)
from hangroom.store.setpoints import keep_setpoint, setpoints
from hangroom.terms import Stage

NOW = datetime(2026, 11, 1, 6, tzinfo=UTC)


def asked(db: Database, key: str, value: float = 78.0, room: str = "closet") -> int:
    return ask(
        db,
        key=key,
        kind="humidity-setpoint",
        room=room,
        body={"value": value},
        asked_by="keeper",
        now=NOW,
    )


def test_a_wish_comes_back_as_it_was_asked(db: Database) -> None:
    number = asked(db, "k1")
    wish = Request(
        number=number,
        asked_at=NOW,
        expires_at=NOW + EXPIRES_AFTER,
        asked_by="keeper",
        kind="humidity-setpoint",
        room="closet",
        body={"value": 78.0},
        outcome=None,
        answer=None,
    )
    assert open_requests(db) == [wish]
    assert request_by_number(db, number) == wish


def test_the_same_wish_sent_twice_is_one(db: Database) -> None:
    assert asked(db, "k1") == asked(db, "k1", value=60.0)
    (wish,) = open_requests(db)
    assert wish.body == {"value": 78.0}


def test_a_wish_sent_again_after_its_answer_is_not_asked_anew(db: Database) -> None:
    number = asked(db, "k1")
    answer(db, number, Outcome.APPLIED, "Setpoint is 78 %.", now=NOW)
    assert asked(db, "k1") == number
    assert open_requests(db) == []


def test_open_wishes_come_oldest_first_and_leave_when_answered(db: Database) -> None:
    first, second = asked(db, "k1"), asked(db, "k2", room="fridge")
    assert [wish.number for wish in open_requests(db)] == [first, second]
    answer(db, first, Outcome.REFUSED, "Too near a limit.", now=NOW + timedelta(seconds=2))
    assert [wish.number for wish in open_requests(db)] == [second]
    told = request_by_number(db, first)
    assert told is not None
    assert (told.outcome, told.answer) == (Outcome.REFUSED, "Too near a limit.")


def test_an_answer_is_seen_by_another_process_at_once(db: Database) -> None:
    number = asked(db, "k1")
    answer(db, number, Outcome.APPLIED, "Setpoint is 78 %.", now=NOW)
    assert not db.conn.in_transaction


def test_the_newest_wish_of_a_room_is_found_answered_or_not(db: Database) -> None:
    asked(db, "k1", value=70.0)
    newest = asked(db, "k2", value=71.0)
    asked(db, "k3", value=72.0, room="fridge")
    found = newest_request(db, "closet", "humidity-setpoint")
    assert found is not None
    assert found.number == newest
    assert newest_request(db, "closet", "nothing") is None


def test_a_wish_that_was_never_asked_is_none(db: Database) -> None:
    assert request_by_number(db, 7) is None


def test_a_setpoint_is_kept_by_room_and_stage_and_the_last_one_holds(db: Database) -> None:
    what = "humidity-setpoint"
    for room, stage, value in (
        ("closet", Stage.HANG, 75.0),
        ("closet", Stage.REST, 84.0),
        ("fridge", Stage.HANG, 80.0),
        ("closet", Stage.HANG, 77.5),
    ):
        keep_setpoint(db, room=room, stage=stage, what=what, value=value, set_by="keeper", now=NOW)
    assert setpoints(db) == {
        ("closet", Stage.HANG, what): 77.5,
        ("closet", Stage.REST, what): 84.0,
        ("fridge", Stage.HANG, what): 80.0,
    }


@pytest.mark.parametrize(
    "text",
    ['{"value": ' + "1" * 5000 + "}", "[" * 999 + "]" * 999],
    ids=["a number of 5000 digits", "lists in lists"],
)
def test_json_of_any_kind_is_read(db: Database, text: str) -> None:
    number = asked(db, "k1", value=70.0)
    db.execute("update request set body = ? where id = ?", (text, number))
    assert request_by_number(db, number) is not None
