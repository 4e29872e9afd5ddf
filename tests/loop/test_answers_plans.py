"""Humidity plans asked for on the page: wished, used, ended, and ended by a setpoint by hand."""

from datetime import timedelta

import pytest
from loop.asking import NOW, Desk
from planning.made_forecast import GENTLE

from hangroom.product.humidity_plan import GroupPlanned, HumidityPlan, HumidityStep
from hangroom.store.batches import NewGroup, add_batch, pull_group
from hangroom.store.database import durably
from hangroom.store.plans import Ended, PlanCause, keep_plan, plan_runs, wishes
from hangroom.store.requests import Kind
from hangroom.terms import RoomPlan


@pytest.fixture
def group(desk: Desk) -> float:
    """A group that hangs in the closet, by its number in the store."""
    new = NewGroup(
        letter="A",
        finish="dry",
        target_yield_pct=60.0,
        sticks=12,
        tagged=(),
        room="closet",
        hung_at=NOW - timedelta(days=1),
    )
    add_batch(desk.page, name="Tried", started_at=NOW - timedelta(days=2), groups=[new])
    return float(desk.page.execute("select id from stick_group").fetchone()[0])


def proposed(desk: Desk, *humidities_pct: float, room: str = "closet") -> float:
    """A proposal of the daemon's, a day for each humidity; its number."""
    planned = GroupPlanned(
        group="group A", wanted_h=90.0, asked=True, as_it_is=GENTLE, planned=GENTLE
    )
    steps = tuple(
        HumidityStep(after_h=24.0 * day, humidity_pct=humidity_pct)
        for day, humidity_pct in enumerate(humidities_pct)
    )
    with durably(desk.page):
        return float(
            keep_plan(
                desk.page,
                room=room,
                made_at=desk.clock.now(),
                cause=PlanCause.ASKED,
                plan=HumidityPlan(steps=steps, groups=(planned,), remarks=()),
                hung_at={"group A": NOW},
            )
        )


def in_use(desk: Desk) -> bool:
    run = plan_runs(desk.page).get("closet")
    return run is not None and run.ended_at is None


def humidity_pct(plan: RoomPlan) -> float:
    assert plan.humidity is not None
    return plan.humidity.setpoint_pct


def test_a_wish_is_kept_and_moves_no_setpoint(desk: Desk, group: float) -> None:
    before = dict(desk.plans)
    said = desk.applied(Kind.PLAN, group=group, wanted_in_s=86_400.0)
    assert "worked out" in said
    assert desk.plans == before
    (wish,) = wishes(desk.page).values()
    assert wish.wanted_at is not None
    assert abs(wish.wanted_at - (desk.clock.now() + timedelta(days=1))) < timedelta(seconds=1)
    assert desk.events()[-1][0] == "plan-wished"
    desk.applied(Kind.PLAN, group=group, wanted_in_s=None)
    (wish,) = wishes(desk.page).values()
    assert wish.wanted_at is None
    desk.applied(Kind.PLAN_FORGET, group=group)
    assert wishes(desk.page) == {}


@pytest.mark.parametrize(
    ("room", "asked", "says"),
    [
        ("closet", {"group": None, "wanted_in_s": 3600.0}, "names no group"),
        ("closet", {"group": 99.0, "wanted_in_s": 3600.0}, "does not hang in this room"),
        ("fridge", {"group": 1.0, "wanted_in_s": 3600.0}, "does not hang in this room"),
        ("closet", {"group": 1.0, "wanted_in_s": 0.0}, "from now on"),
        ("closet", {"group": 1.0, "wanted_in_s": 61 * 86_400.0}, "from now on"),
        ("closet", {"group": 1.0, "wanted_in_s": "soon"}, "as a number"),
    ],
)
@pytest.mark.usefixtures("group")
def test_a_wish_that_does_not_hold_is_refused(
    desk: Desk, room: str, asked: dict[str, float | str | None], says: str
) -> None:
    assert says in desk.refused(Kind.PLAN, room=room, **asked)
    assert wishes(desk.page) == {}


def test_a_proposal_is_used_and_ended(desk: Desk) -> None:
    number = proposed(desk, 80.0, 76.0)
    assert "in use" in desk.applied(Kind.PLAN_USE, plan=number)
    assert in_use(desk)
    assert humidity_pct(desk.plans["closet"]) == 75  # its setpoint is asked for by itself
    assert "stays as it is" in desk.applied(Kind.PLAN_END)
    assert not in_use(desk)
    assert plan_runs(desk.page)["closet"].ended_why is Ended.ENDED
    assert [event[0] for event in desk.events()] == ["plan-begun", "plan-ended"]
    assert "follows no plan" in desk.refused(Kind.PLAN_END)


def test_a_plan_beyond_the_limits_is_refused_before_it_moves_anything(desk: Desk) -> None:
    # The band of 3 must lie inside 50 to 92 on every day of it, not only on the first.
    number = proposed(desk, 80.0, 53.0)
    assert "low_limit_pct (50)" in desk.refused(Kind.PLAN_USE, plan=number)
    assert not in_use(desk)


def test_only_the_newest_proposal_of_the_room_is_used(desk: Desk) -> None:
    older = proposed(desk, 80.0)
    newer = proposed(desk, 81.0)
    assert "not the newest" in desk.refused(Kind.PLAN_USE, plan=older)
    assert "not the newest" in desk.refused(Kind.PLAN_USE, plan=None)
    assert "not the newest" in desk.refused(Kind.PLAN_USE, room="fridge", plan=newer)
    desk.applied(Kind.PLAN_USE, plan=newer)


def test_a_proposal_grows_too_old(desk: Desk) -> None:
    number = proposed(desk, 80.0)
    desk.tick(after_s=12 * 3600.0 + 1.0)
    assert "too old" in desk.refused(Kind.PLAN_USE, plan=number)


def test_a_plan_is_for_hanging_only(desk: Desk) -> None:
    number = proposed(desk, 80.0)
    desk.applied(Kind.STAGE, stage="rest")
    assert "in the stage rest" in desk.refused(Kind.PLAN_USE, plan=number)


def test_an_empty_plan_is_nothing_to_use(desk: Desk) -> None:
    assert "no setpoints" in desk.refused(Kind.PLAN_USE, plan=proposed(desk))


def test_the_plan_in_use_moves_the_setpoint_like_anybody_else(desk: Desk) -> None:
    number = proposed(desk, 80.0)
    desk.applied(Kind.PLAN_USE, plan=number)
    desk.applied(Kind.HUMIDITY_SETPOINT, by="plan", value=80.0, plan=number)
    assert humidity_pct(desk.plans["closet"]) == 80
    assert in_use(desk)
    assert desk.events()[-1] == (
        "humidity-setpoint",
        "closet",
        {"setpoint_pct": 80.0},
        {"by": "plan", "stage": "hang"},
    )
    assert "high_limit_pct" in desk.refused(
        Kind.HUMIDITY_SETPOINT, by="plan", value=90.0, plan=number
    )


def test_a_setpoint_by_hand_ends_the_plan_and_says_so(desk: Desk) -> None:
    number = proposed(desk, 80.0)
    desk.applied(Kind.PLAN_USE, plan=number)
    assert "ended the plan" in desk.applied(Kind.HUMIDITY_SETPOINT, value=78.0)
    run = plan_runs(desk.page)["closet"]
    assert (run.ended_why, run.ended_by) == (Ended.BY_HAND, "keeper")
    # and what the plan still asks for is refused
    said = desk.refused(Kind.HUMIDITY_SETPOINT, by="plan", value=80.0, plan=number)
    assert "not in use" in said
    assert humidity_pct(desk.plans["closet"]) == 78


def test_a_person_who_is_called_plan_is_a_person(desk: Desk) -> None:
    desk.applied(Kind.PLAN_USE, plan=proposed(desk, 80.0))
    desk.applied(Kind.HUMIDITY_SETPOINT, by="plan", value=78.0)
    assert not in_use(desk)


def test_another_stage_and_its_setpoints_leave_the_plan_in_use(desk: Desk) -> None:
    number = proposed(desk, 80.0)
    desk.applied(Kind.PLAN_USE, plan=number)
    desk.applied(Kind.STAGE, stage="rest")
    desk.applied(Kind.HUMIDITY_SETPOINT, value=86.0)
    assert in_use(desk)
    said = desk.refused(Kind.HUMIDITY_SETPOINT, by="plan", value=80.0, plan=number)
    assert "setpoint of hanging" in said


def test_a_refused_setpoint_by_hand_leaves_the_plan(desk: Desk) -> None:
    desk.applied(Kind.PLAN_USE, plan=proposed(desk, 80.0))
    desk.refused(Kind.HUMIDITY_SETPOINT, value=90.0)
    assert in_use(desk)


def test_plan_and_setpoint_outlast_a_restart(desk: Desk) -> None:
    number = proposed(desk, 80.0)
    desk.applied(Kind.PLAN_USE, plan=number)
    desk.applied(Kind.HUMIDITY_SETPOINT, by="plan", value=80.0, plan=number)
    assert humidity_pct(desk.restart()["closet"]) == 80
    assert in_use(desk)


def test_a_pulled_group_is_wanted_no_more(desk: Desk, group: float) -> None:
    desk.applied(Kind.PLAN, group=group, wanted_in_s=86_400.0)
    assert len(wishes(desk.page)) == 1
    pull_group(desk.page, int(group), now=desk.clock.now())
    assert wishes(desk.page) == {}
