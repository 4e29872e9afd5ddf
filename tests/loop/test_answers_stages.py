"""Stages from the page, and stages that end by themselves."""

import pytest
from loop.asking import CLOSET, HUMIDITY, MOIST, PLANS, Desk, locked

from hangroom.store.requests import Kind, Word
from hangroom.terms import Stage, StageRun


def test_a_stage_begins_with_what_it_asks_for(desk: Desk) -> None:
    said = desk.applied(Kind.STAGE, stage="rest", for_s=1800.0, then="hold", batch=7)
    plan, began_s = desk.plans["closet"], desk.clock.uptime_s()
    assert "rest" in said
    assert "30 min" in said
    assert (plan.stage, plan.humidity) == (Stage.REST, MOIST)
    assert plan.stage_run == StageRun(
        since_uptime_s=began_s,
        ends_uptime_s=began_s + 1800,
        then=Stage.HOLD,
        by="keeper",
        batch=7,
    )
    assert desk.events() == [
        (
            "stage-begun",
            "closet",
            {"for_s": 1800.0},
            {"by": "keeper", "stage": "rest", "before": "hang"},
        )
    ]


def test_a_stage_without_an_end_goes_on(desk: Desk) -> None:
    desk.applied(Kind.STAGE, stage="rest", for_s=None)
    desk.tick(after_s=40 * 86_400)
    assert desk.stage() is Stage.REST


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ({"stage": "smoke"}, "must be one of: casing-dry, hang, rest, hold, empty"),
        ({}, "must be one of"),
        ({"stage": "rest", "for_s": "long"}, "no 'for_s'"),
        ({"stage": "rest", "for_s": 0}, "more than 0"),
        ({"stage": "rest", "for_s": -5}, "more than 0"),
        ({"stage": "rest", "for_s": 61 * 86_400}, "at most 60 days"),
        ({"stage": "rest", "for_s": 60, "then": "smoke"}, "must be one of"),
        ({"stage": "rest", "batch": 1.5}, "1.5"),
        ({"stage": "rest", "batch": 0}, "no number of anything"),
        ({"stage": "rest", "batch": 1e300}, "no number of anything"),
        ({"stage": "rest", "batch": "seven"}, "no 'batch'"),
        ({"stage": "casing-dry", "for_s": None}, "Give it a time"),
    ],
)
def test_a_stage_that_does_not_hold_is_refused_with_the_reason(
    desk: Desk, body: dict[str, Word], says: str
) -> None:
    assert says in desk.refused(Kind.STAGE, **body)
    assert desk.restart() == PLANS


def test_a_room_without_a_fan_cannot_dry_casings(desk: Desk) -> None:
    assert "moves air" in desk.refused(Kind.STAGE, room="fridge", stage="casing-dry", for_s=60.0)


def test_stages_follow_one_another_by_themselves(desk: Desk) -> None:
    desk.applied(Kind.STAGE, stage="casing-dry", for_s=600.0)
    began_s = desk.clock.uptime_s()
    assert desk.tick(after_s=598)["closet"].stage is Stage.CASING_DRY
    # As the plan says, rest comes next, for two hours from the moment the casings were dry.
    resting = desk.tick(after_s=8)["closet"]
    assert (resting.stage, resting.humidity) == (Stage.REST, MOIST)
    assert resting.stage_run is not None
    assert resting.stage_run.since_uptime_s == began_s + 600
    assert resting.stage_run.ends_uptime_s == began_s + 600 + 7200
    hanging = desk.tick(after_s=7200)["closet"]
    assert (hanging.stage, hanging.humidity) == (Stage.HANG, HUMIDITY)
    assert hanging.stage_run is not None
    assert hanging.stage_run.ends_uptime_s is None
    assert [event for event in desk.events() if event[0] == "stage-ended"] == [
        ("stage-ended", "closet", {}, {"stage": "casing-dry", "next": "rest"}),
        ("stage-ended", "closet", {}, {"stage": "rest", "next": "hang"}),
    ]


@pytest.mark.parametrize("jump_s", [-86_400.0, 86_400.0])
def test_a_jump_of_the_wall_clock_ends_no_stage_and_stretches_none(
    desk: Desk, jump_s: float
) -> None:
    desk.applied(Kind.STAGE, stage="rest", for_s=600.0)
    desk.clock.step_wall(jump_s)
    desk.answers.clock_jumped()
    assert desk.tick(after_s=598)["closet"].stage is Stage.REST
    assert desk.tick(after_s=2)["closet"].stage is Stage.HANG


def test_a_stage_ends_while_the_database_is_locked_and_is_kept_when_it_is_free(
    desk: Desk,
) -> None:
    desk.applied(Kind.STAGE, stage="rest", for_s=600.0)
    other = locked(desk)
    assert desk.tick(after_s=600)["closet"].stage is Stage.HANG
    assert desk.page.execute("select stage from stage_run").fetchall() == [("rest",)]
    other.execute("rollback")
    other.close()
    desk.tick()
    assert desk.page.execute("select stage from stage_run").fetchall() == [("hang",)]
    written = desk.page.execute("pragma data_version").fetchone()
    desk.tick()
    assert desk.page.execute("pragma data_version").fetchone() == written
    assert [event[0] for event in desk.events()] == ["stage-begun", "stage-ended"]


def test_each_room_has_its_own_stage(desk: Desk) -> None:
    desk.applied(Kind.STAGE, stage="rest", for_s=600.0)
    desk.applied(Kind.STAGE, room="fridge", stage="empty")
    assert desk.stage() is Stage.REST
    assert desk.stage("fridge") is Stage.EMPTY
    assert desk.plans["fridge"].temperature == PLANS["fridge"].temperature
    assert desk.settings["closet"] is CLOSET
