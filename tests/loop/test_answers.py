"""What holds for every wish of the page: answered once, kept first, and nothing breaks the loop."""

import json
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from loop.asking import PLANS, Desk, locked

from hangroom.errors import InputError
from hangroom.store.requests import EXPIRES_AFTER, Kind, Outcome
from hangroom.terms import RelayKind, Stage

# One wish of each kind that holds, and the room it is for.
GOOD: dict[Kind, tuple[str, dict[str, Any]]] = {
    Kind.HUMIDITY_SETPOINT: ("closet", {"value": 80.0}),
    Kind.TEMPERATURE_SETPOINT: ("fridge", {"value": 6.0}),
    Kind.STAGE: ("closet", {"stage": "rest", "for_s": 3600, "then": None, "batch": 3}),
    Kind.OVERRIDE: (
        "closet",
        {"relay": "exhaust-fan", "closed": True, "for_s": 600, "why": "smoke in the room"},
    ),
    Kind.LOCKOUTS_LIFT: ("closet", {}),
    Kind.CALIBRATION: (
        "closet",
        # Over sodium chloride at 20 degC the air has 75.48 %RH (Greenspan 1977).
        {"sensor": "rail", "salt": "NaCl", "read_pct": 73.0, "temperature_c": 20.0},
    ),
}
OF_ALARMS = [kind for kind in Kind if kind.startswith(("alarm", "inspection"))]


@pytest.mark.parametrize("kind", GOOD)
def test_a_wish_that_holds_is_applied_told_and_noted_with_who_and_when(
    desk: Desk, kind: Kind
) -> None:
    room, body = GOOD[kind]
    number = desk.ask(kind, room=room, by="the keeper", **body)
    desk.tick()
    assert desk.request(number).outcome is Outcome.APPLIED
    assert desk.request(number).answer
    assert desk.plans[room] != PLANS[room]
    other = "fridge" if room == "closet" else "closet"
    assert desk.plans[other] is PLANS[other]
    ((_, noted_room, _, words),) = desk.events()
    assert (noted_room, words["by"]) == (room, "the keeper")


@pytest.mark.parametrize("kind", GOOD)
def test_an_answered_wish_is_not_answered_again(desk: Desk, kind: Kind) -> None:
    room, body = GOOD[kind]
    desk.ask(kind, room=room, **body)
    once = dict(desk.tick())
    assert desk.tick() == once
    assert len(desk.events()) == 1


def test_every_kind_there_is_has_an_answer(desk: Desk) -> None:
    # Humidity plans, relays that are tried and looks put off have tests of their own, and those two.
    plans = {kind for kind in Kind if kind.startswith(("plan", "relay", "reminder"))}
    known = {*GOOD, *OF_ALARMS, *plans, Kind.OVERRIDE_END, Kind.CALIBRATION_FORGET}
    assert known == set(Kind)
    for kind in Kind:
        number = desk.ask(kind)
        desk.tick()
        assert "does not know" not in (desk.request(number).answer or "")


@pytest.mark.parametrize("kind", OF_ALARMS)
def test_wishes_about_alarms_go_to_the_alarm_desk(desk: Desk, kind: Kind) -> None:
    number = desk.ask(kind, room="", alarm="clock-jump")
    desk.tick()
    assert [request.number for request in desk.alarms_asked] == [number]
    assert desk.request(number).answer == "Seen to."
    assert desk.plans == PLANS


@pytest.mark.parametrize("kind", [*GOOD, *OF_ALARMS])
def test_a_wish_that_waited_too_long_is_refused(desk: Desk, kind: Kind) -> None:
    room, body = GOOD.get(kind, ("closet", {"alarm": "clock-jump"}))
    number = desk.ask(kind, room=room, **body)
    desk.tick(after_s=EXPIRES_AFTER.total_seconds())
    assert "waited too long" in (desk.request(number).answer or "")
    assert desk.plans == PLANS
    assert not desk.alarms_asked


def test_an_unknown_room_and_an_unknown_kind_are_refused(desk: Desk) -> None:
    assert "no room 'cellar'" in desk.refused(Kind.LOCKOUTS_LIFT, room="cellar")
    assert "'open-door'" in desk.refused("open-door")


def test_one_refusal_does_not_keep_others_from_being_answered(desk: Desk) -> None:
    numbers = [desk.ask(Kind.HUMIDITY_SETPOINT, value=value) for value in (99.0, 78.0, 81.0)]
    desk.tick()
    assert [desk.request(n).outcome for n in numbers] == [
        Outcome.REFUSED,
        Outcome.APPLIED,
        Outcome.APPLIED,
    ]
    target = desk.plans["closet"].humidity
    assert target is not None
    assert target.setpoint_pct == 81.0


@pytest.mark.parametrize("kind", GOOD)
def test_a_locked_database_changes_nothing_and_the_page_is_answered_later(
    desk: Desk, kind: Kind
) -> None:
    room, body = GOOD[kind]
    number = desk.ask(kind, room=room, **body)
    other = locked(desk)
    assert desk.tick() == PLANS
    assert desk.request(number).outcome is None
    other.execute("rollback")
    other.close()
    assert desk.tick() != PLANS
    assert desk.request(number).outcome is Outcome.APPLIED


def test_what_cannot_be_kept_is_not_done(desk: Desk) -> None:
    """A setpoint that held until the next restart only would be a trap."""
    number = desk.ask(Kind.HUMIDITY_SETPOINT, value=80.0)
    desk.page.execute("drop table setpoint")
    assert desk.tick() == PLANS
    assert desk.request(number).outcome is None
    assert desk.events() == []


words = st.text(max_size=8)
entries = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(),
        st.floats(allow_nan=False),
        words,
        st.sampled_from(["hang", "rest", "exhaust-fan", "rail", "NaCl", 10**400, 1e308, -1, 0]),
    ),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(words, inner, max_size=2),
    max_leaves=3,
)
NAMES = sorted({name for _, body in GOOD.values() for name in body} | {"alarm"})
bodies = st.one_of(
    entries,
    st.dictionaries(st.sampled_from(NAMES), entries, max_size=6),
    st.sampled_from(list(GOOD.values())).flatmap(
        lambda good: st.tuples(st.sampled_from(sorted(good[1]) or ["value"]), entries).map(
            lambda change: {**good[1], change[0]: change[1]}
        )
    ),
)


@settings(
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(kind=st.sampled_from([*GOOD, Kind.OVERRIDE_END, Kind.CALIBRATION_FORGET]), body=bodies)
def test_whatever_stands_in_a_body_the_loop_goes_on_and_every_plan_holds(
    desk: Desk, kind: Kind, body: object
) -> None:
    number = desk.ask(kind, room="closet")
    text = json.dumps(body).replace("Infinity", "1e999")
    desk.page.execute("update request set body = ? where id = ?", (text, number))
    desk.page.conn.commit()
    plan = desk.tick()["closet"]
    assert desk.request(number).outcome is not None
    assert desk.request(number).answer
    assert plan.stage in Stage
    for planned in plan.stages.values():
        assert planned.humidity is not None
        assert planned.humidity.fault() is None
    for override in plan.overrides.values():
        assert 0 < override.ends_uptime_s - desk.clock.uptime_s() <= 4 * 3600
    assert set(plan.overrides) <= {RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN}
    assert set(plan.calibrations) <= {"rail", "floor"}
    desk.restart()


@pytest.mark.parametrize(
    "text",
    [
        pytest.param('{"value": ' + "1" * 5000 + "}", id="a number of 5000 digits"),
        pytest.param('{"value": ' + "1" * 400 + "}", id="a number too large for a float"),
        pytest.param("[" * 900 + "]" * 900, id="lists in lists"),
        pytest.param('{"relay": "exhaust-fan", "why": "\\ud800"}', id="half a character"),
        pytest.param("80", id="a bare number"),
        pytest.param("null", id="nothing"),
    ],
)
def test_json_that_is_hard_to_take_is_refused(desk: Desk, text: str) -> None:
    for kind in GOOD:
        if kind is not Kind.LOCKOUTS_LIFT:
            number = desk.ask(kind)
            desk.page.execute("update request set body = ? where id = ?", (text, number))
            desk.page.conn.commit()
            assert desk.tick() == PLANS
            assert desk.request(number).outcome is Outcome.REFUSED


def test_words_with_half_a_character_are_kept_without_it(desk: Desk) -> None:
    desk.applied(
        Kind.OVERRIDE,
        relay="exhaust-fan",
        closed=True,
        for_s=60.0,
        why="smoke \ud800\n in the room",
    )
    assert desk.plans["closet"].overrides[RelayKind.EXHAUST_FAN].why == "smoke in the room"


def test_a_mistake_in_the_program_itself_is_not_swallowed(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("hangroom.answers.answering.JUDGED_BY", {Kind.LOCKOUTS_LIFT: broken})
    desk.ask(Kind.LOCKOUTS_LIFT)
    with pytest.raises(ZeroDivisionError):
        desk.tick()


def test_a_refusal_by_the_core_is_told_in_its_own_words(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refusing(*_: object) -> None:
        raise InputError("Not on a Sunday.")

    monkeypatch.setattr("hangroom.answers.answering.JUDGED_BY", {Kind.LOCKOUTS_LIFT: refusing})
    assert desk.refused(Kind.LOCKOUTS_LIFT) == "Not on a Sunday."


def test_a_wish_from_the_future_is_answered_all_the_same(desk: Desk) -> None:
    """The wall clock was set back between asking and answering."""
    number = desk.ask(Kind.HUMIDITY_SETPOINT, value=80.0)
    desk.clock.step_wall(-timedelta(hours=3).total_seconds())
    desk.tick()
    assert desk.request(number).outcome is Outcome.APPLIED
