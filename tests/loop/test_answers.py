"""The daemon's answers to the page's wishes, through the real store."""

import json
import sqlite3
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlite_utils import Database

from hangroom.answers import Answers
from hangroom.store.database import connect, prepare_database
from hangroom.store.requests import (
    EXPIRES_AFTER,
    Kind,
    Outcome,
    Request,
    ask,
    request_by_number,
)
from hangroom.store.setpoints import keep_setpoint
from hangroom.terms import HumidityTarget, RoomPlan, Stage

NOW = datetime(2026, 11, 1, 7, 0, tzinfo=UTC)
PLANS = {
    "closet": RoomPlan(
        name="closet",
        stage=Stage.HANG,
        humidity=HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92),
        temperature=None,
        relays={},
    ),
    "fridge": RoomPlan(name="fridge", stage=Stage.HOLD, humidity=None, temperature=None, relays={}),
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return prepare_database(tmp_path)


@pytest.fixture
def page(path: Path) -> Iterator[Database]:
    """The page's own connection: what it reads here has really been committed."""
    db = connect(path)
    yield db
    db.close()


@pytest.fixture
def answers(path: Path) -> Iterator[Answers]:
    answers = Answers(path)
    yield answers
    answers.close()


def wish(
    page: Database,
    *,
    value: float | None = 80.0,
    room: str = "closet",
    kind: str = Kind.HUMIDITY_SETPOINT,
    key: str = "one",
) -> int:
    body = {} if value is None else {"value": value}
    return ask(page, key=key, kind=kind, room=room, body=body, asked_by="keeper", now=NOW)


def setpoint_pct(plans: Mapping[str, RoomPlan]) -> float:
    target = plans["closet"].humidity
    assert target
    return target.setpoint_pct


def answered(page: Database, number: int) -> Request:
    request = request_by_number(page, number)
    assert request is not None
    return request


def test_a_setpoint_between_the_limits_is_applied(page: Database, answers: Answers) -> None:
    number = wish(page)
    plans = answers.answered(PLANS, NOW)
    assert setpoint_pct(plans) == 80
    assert answered(page, number).outcome is Outcome.APPLIED
    assert "80 %" in (answered(page, number).answer or "")
    assert plans["fridge"] is PLANS["fridge"]
    assert setpoint_pct(PLANS) == 75


@pytest.mark.parametrize(
    ("asked", "after", "says"),
    [
        pytest.param({}, EXPIRES_AFTER, "waited too long", id="expired"),
        pytest.param({"room": "cellar"}, timedelta(0), "no room 'cellar'", id="unknown room"),
        pytest.param({"kind": "open-door"}, timedelta(0), "'open-door'", id="unknown kind"),
        pytest.param({"value": 89.5}, timedelta(0), "high_limit_pct (92)", id="too near the top"),
        pytest.param({"value": 53.0}, timedelta(0), "low_limit_pct (50)", id="too near the bottom"),
        pytest.param({"value": 1e9}, timedelta(0), "limit", id="out of this world"),
        pytest.param({"room": "fridge"}, timedelta(0), "acts on humidity", id="no humidity here"),
        pytest.param({"value": None}, timedelta(0), "", id="no value"),
    ],
)
def test_what_does_not_hold_is_refused_with_the_reason_and_changes_nothing(
    page: Database, answers: Answers, asked: dict[str, str], after: timedelta, says: str
) -> None:
    number = wish(page, **asked)  # type: ignore[arg-type]  # each row passes what wish names
    assert answers.answered(PLANS, NOW + after) == PLANS
    request = answered(page, number)
    assert request.outcome is Outcome.REFUSED
    assert request.answer
    assert says in request.answer
    assert answers.kept(PLANS) == PLANS


@pytest.mark.parametrize("body", [{"value": "80"}, {"value": None}, {"value": [80]}, 80, ["value"]])
def test_a_body_that_no_page_should_write_is_refused_and_ends_nothing(
    page: Database, answers: Answers, body: object
) -> None:
    number = wish(page)
    page.execute("update request set body = ?", (json.dumps(body),))
    page.conn.commit()
    assert answers.answered(PLANS, NOW) == PLANS
    assert answered(page, number).outcome is Outcome.REFUSED


def test_one_refusal_does_not_keep_others_from_being_answered(
    page: Database, answers: Answers
) -> None:
    numbers = [
        wish(page, value=99.0, key="a"),
        wish(page, value=78.0, key="b"),
        wish(page, value=81.0, key="c"),
    ]
    assert setpoint_pct(answers.answered(PLANS, NOW)) == 81
    assert [answered(page, n).outcome for n in numbers] == [
        Outcome.REFUSED,
        Outcome.APPLIED,
        Outcome.APPLIED,
    ]


def test_an_answered_wish_is_not_answered_again(page: Database, answers: Answers) -> None:
    wish(page)
    answers.answered(PLANS, NOW)
    assert answers.answered(PLANS, NOW) == PLANS


def test_an_applied_setpoint_is_kept_across_a_restart(
    page: Database, answers: Answers, path: Path
) -> None:
    wish(page)
    answers.answered(PLANS, NOW)
    again = Answers(path)
    assert setpoint_pct(again.kept(PLANS)) == 80
    again.close()


def test_a_kept_setpoint_that_the_settings_no_longer_allow_is_passed_over(
    page: Database, answers: Answers
) -> None:
    for room, value in (("closet", 91.0), ("cellar", 75.0), ("fridge", 75.0)):
        keep_setpoint(
            page, room=room, what=Kind.HUMIDITY_SETPOINT, value=value, set_by="keeper", now=NOW
        )
    assert answers.kept(PLANS) == PLANS


def test_a_locked_database_changes_nothing_and_the_page_is_answered_later(
    page: Database, answers: Answers, path: Path
) -> None:
    number = wish(page)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("begin immediate")
    assert answers.answered(PLANS, NOW) == PLANS
    assert answered(page, number).outcome is None
    other.execute("rollback")
    other.close()
    assert setpoint_pct(answers.answered(PLANS, NOW)) == 80
    assert answered(page, number).outcome is Outcome.APPLIED
