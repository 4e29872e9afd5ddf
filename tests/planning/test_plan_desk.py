"""The plan desk over a real database: what is wished is planned, what is used is followed."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from loop.asking import CLOSET, COLD, NOW, PLANS, Desk
from planning.in_process import Planner

from hangroom.forecasting.humidity_plans import HumidityPlans
from hangroom.product.humidity_plan import HumidityStep
from hangroom.store.batches import NewGroup, NewStick, add_batch, pull_group
from hangroom.store.database import durably
from hangroom.store.moments import to_ms
from hangroom.store.plan_form import plan_answered_as_json
from hangroom.store.plans import (
    Ended,
    KeptPlan,
    PlanCause,
    begin_run,
    newest_plan,
    plan_runs,
    wishes,
)
from hangroom.store.requests import Kind, Outcome, open_requests
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in
from hangroom.terms import HumidityTarget, RoomPlan, Stage

COOL = replace(COLD, setpoint_c=13.0, high_limit_c=20.0)
COOLED = replace(
    CLOSET,
    temperature=COOL,
    stages={stage: replace(each, temperature=COOL) for stage, each in CLOSET.stages.items()},
)


def cooled_desk(folder: Path) -> Desk:
    """A closet that is kept at 13 degC, so that the air to come is known without any reading."""
    return Desk(folder, plans={**PLANS, "closet": COOLED})


class House:
    """A closet with one hanging group; the loop's answers on one side, the plan desk beside."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.planner = Planner()
        self.plans = HumidityPlans(
            desk.path, scale_sd_g=0.5, now=desk.clock.now, child=self.planner
        )
        self.add("A", 62.0)
        self.note()

    def add(self, letter: str, target_pct: float) -> None:
        tags = [f"{letter}{number}" for number in range(3)]
        group = NewGroup(
            letter=letter,
            finish="dry",
            target_yield_pct=target_pct,
            sticks=12,
            tagged=[NewStick(tag=tag, green_weight_g=80.0, hang_weight_g=68.0) for tag in tags],
            room="closet",
            hung_at=NOW - timedelta(hours=6),
        )
        add_batch(self.desk.page, name=letter, started_at=NOW - timedelta(days=1), groups=[group])

    def note(self) -> None:
        """The journal writes down by which plan the rooms go, as the loop does."""
        for room, plan in self.desk.plans.items():
            self.desk.journal.note_plan(room, plan, uptime_s=self.desk.clock.uptime_s())
        assert self.desk.journal.flush(now=self.desk.clock.now())

    def group(self, number: int = 1) -> float:
        rows = self.desk.page.execute("select id from stick_group order by id").fetchall()
        return float(rows[number - 1][0])

    def wish(self, hours: float | None, number: int = 1) -> None:
        wanted_in_s = None if hours is None else hours * 3600.0
        self.desk.applied(Kind.PLAN, group=self.group(number), wanted_in_s=wanted_in_s)
        self.plans.look()

    def newest(self) -> KeptPlan:
        found = newest_plan(self.desk.page, "closet")
        assert found is not None
        return found

    def steps(self) -> tuple[HumidityStep, ...]:
        plan = self.newest().plan
        assert plan is not None
        return plan.steps

    def look(self, *, after_h: float = 0.0) -> None:
        """Let time pass, look, let the loop answer, and let the journal note what came of it."""
        self.desk.tick(after_s=max(2.0, after_h * 3600.0))
        self.plans.look()
        self.desk.tick()
        self.note()

    def run_ended(self) -> Ended | None:
        return plan_runs(self.desk.page)["closet"].ended_why


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    desk = cooled_desk(tmp_path)
    yield House(desk)
    desk.close()


def humidity_pct(plan: RoomPlan) -> float:
    assert plan.humidity is not None
    return plan.humidity.setpoint_pct


def test_what_is_wished_is_planned_once(house: House) -> None:
    house.plans.look()
    assert newest_plan(house.desk.page, "closet") is None
    house.wish(150.0)
    first = house.newest()
    assert first.cause is PlanCause.ASKED
    assert first.plan is not None
    (group,) = first.plan.groups
    assert group.wanted_h == pytest.approx(156.0, abs=0.1)  # hung six hours ago
    assert group.planned.p50_h == pytest.approx(156.0, abs=1.0)
    assert first.hung_at == {"group A": NOW - timedelta(hours=6)}
    house.look()
    assert house.newest().number == first.number
    assert len(house.planner.asked) == 1
    # The band of 3 inside hard limits of 50 and 92, ends not included.
    limits = house.planner.asked[0].limits
    assert (limits.lowest_pct, limits.highest_pct) == (53.01, 88.99)


def test_a_plan_not_in_use_moves_nothing(house: House) -> None:
    house.wish(150.0)
    house.look(after_h=30.0)
    assert humidity_pct(house.desk.plans["closet"]) == 75
    assert len(house.planner.asked) == 1


def test_a_plan_in_use_asks_for_its_setpoint_and_the_journal_says_who(house: House) -> None:
    house.wish(150.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    house.look()
    assert humidity_pct(house.desk.plans["closet"]) == house.steps()[0].humidity_pct
    kind, room, figures, words = house.desk.events()[-1]
    assert (kind, room) == ("humidity-setpoint", "closet")
    assert figures == {"setpoint_pct": house.steps()[0].humidity_pct}
    assert words == {"by": "plan", "stage": "hang"}
    asked = house.desk.page["request"].count
    house.look()
    house.look()
    assert house.desk.page["request"].count == asked


def test_each_day_of_a_plan_has_its_setpoint(house: House) -> None:
    house.wish(150.0)
    number = house.newest().number
    with durably(house.desk.page):
        text = '[{"after_h":0.0,"humidity_pct":80.0},{"after_h":24.0,"humidity_pct":78.0}]'
        house.desk.page.execute(
            "update plan set body = json_set(body, '$.plan.steps', json(?)) where id = ?",
            (text, number),
        )
        begin_run(
            house.desk.page, room="closet", number=number, by="keeper", now=house.desk.clock.now()
        )
    house.planner.fails = "Not today."  # so that nothing is worked out anew in between
    house.look()
    assert humidity_pct(house.desk.plans["closet"]) == 80.0
    house.look(after_h=23.5)
    assert humidity_pct(house.desk.plans["closet"]) == 80.0
    house.look(after_h=0.5)
    assert humidity_pct(house.desk.plans["closet"]) == 78.0


def test_a_plan_in_use_is_worked_out_anew_each_day(house: House) -> None:
    house.wish(150.0)
    first = house.newest()
    house.desk.applied(Kind.PLAN_USE, plan=float(first.number))
    house.look()
    house.look(after_h=23.0)
    assert house.newest().number == first.number
    house.look(after_h=1.0)
    second = house.newest()
    assert second.cause is PlanCause.DAILY
    run = plan_runs(house.desk.page)["closet"]
    assert (run.plan_number, run.ended_at) == (second.number, None)
    house.look()
    assert humidity_pct(house.desk.plans["closet"]) == house.steps()[0].humidity_pct
    assert second.plan is not None
    assert second.plan.groups[0].wanted_h == pytest.approx(156.0, abs=0.1)


def test_a_day_without_a_plan_keeps_the_old_one_and_tries_again_in_an_hour(house: House) -> None:
    house.wish(150.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    house.look()
    before_pct = humidity_pct(house.desk.plans["closet"])
    house.planner.fails = "The forecast was ended by signal 9."
    house.look(after_h=24.0)
    assert house.newest().error == house.planner.fails
    assert plan_runs(house.desk.page)["closet"].ended_at is None
    house.planner.fails = ""
    house.look(after_h=0.5)
    assert house.newest().error
    house.look(after_h=0.6)
    assert not house.newest().error
    assert plan_runs(house.desk.page)["closet"].plan_number == house.newest().number
    assert humidity_pct(house.desk.plans["closet"]) == pytest.approx(before_pct, abs=10.0)


def test_a_setpoint_by_hand_ends_it_for_good(house: House) -> None:
    house.wish(150.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    house.look()
    house.desk.applied(Kind.HUMIDITY_SETPOINT, value=74.0)
    house.note()
    for _ in range(3):
        house.look(after_h=13.0)
    assert house.run_ended() is Ended.BY_HAND
    assert humidity_pct(house.desk.plans["closet"]) == 74.0


def test_it_waits_while_the_room_is_in_another_stage(house: House) -> None:
    house.wish(150.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    house.desk.applied(Kind.STAGE, stage="rest", for_s=3600.0, then="hang")
    house.note()
    house.look()
    assert house.desk.plans["closet"].stage is Stage.REST
    assert not open_requests(house.desk.page)
    house.look(after_h=1.1)
    house.look()
    assert humidity_pct(house.desk.plans["closet"]) == house.steps()[0].humidity_pct


def test_a_step_that_the_limits_no_longer_allow_ends_it(house: House) -> None:
    house.wish(150.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    narrow = HumidityTarget(setpoint_pct=60, band_pct=3, low_limit_pct=55, high_limit_pct=64)
    plan = house.desk.plans["closet"]
    house.desk.plans["closet"] = replace(plan, humidity=narrow, stages={})
    house.note()
    house.look()
    house.look()
    assert house.run_ended() is Ended.REFUSED
    assert "high_limit_pct (64)" in plan_runs(house.desk.page)["closet"].ended_by
    assert humidity_pct(house.desk.plans["closet"]) == 60


def test_when_its_group_is_pulled_the_plan_is_done(house: House) -> None:
    house.wish(150.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    house.look()
    pull_group(house.desk.page, int(house.group()), now=house.desk.clock.now())
    house.look()
    assert house.run_ended() is Ended.DONE
    assert wishes(house.desk.page) == {}


def test_when_its_group_is_there_the_plan_is_done(house: House) -> None:
    house.wish(150.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    house.look()
    house.look(after_h=23.0)
    for tag in ("A0", "A1", "A2"):  # 62 % of 80 g are 49.6 g
        entry = NewWeighIn(key=tag, tag=tag, taken_at=house.desk.clock.now(), weight_g=48.0)
        assert add_weigh_in(house.desk.page, entry)
    house.look(after_h=1.0)
    assert house.steps() == ()
    assert house.run_ended() is Ended.DONE
    plan = house.newest().plan
    assert plan is not None
    assert [remark.code for remark in plan.remarks] == ["plan-arrived"]


def test_groups_that_share_the_room_are_planned_together(house: House) -> None:
    house.add("B", 72.0)
    house.wish(150.0)
    asked = house.planner.asked[-1]
    assert [(each.group, each.asked) for each in asked.groups] == [
        ("group A", True),
        ("group B", False),
    ]
    plan = house.newest().plan
    assert plan is not None
    assert "plan-bystander" in [remark.code for remark in plan.remarks]
    house.wish(150.0, number=2)
    assert all(each.asked for each in house.planner.asked[-1].groups)


def test_a_moment_that_went_by_is_planned_as_soon_as_gently_dried(house: House) -> None:
    house.wish(2.0)
    house.desk.applied(Kind.PLAN_USE, plan=float(house.newest().number))
    house.look(after_h=24.0)
    (group,) = house.planner.asked[-1].groups
    assert (group.wanted_h, group.asked) == (None, True)


@pytest.mark.parametrize(
    ("spoils", "says"),
    [
        (lambda text: text[:-40], "no JSON"),
        (lambda _text: "", "no JSON"),
        (lambda text: text.replace('"humidity_pct":', '"humidity_pct":9', 1), "outside the room"),
        (lambda _text: plan_answered_as_json("The target cannot be."), "cannot be"),
    ],
)
def test_what_a_child_says_wrongly_is_kept_as_a_reason_and_moves_nothing(
    house: House, spoils: Callable[[str], str], says: str
) -> None:
    house.planner.spoils = spoils
    house.wish(150.0)
    newest = house.newest()
    assert newest.plan is None
    assert says in newest.error
    refused = house.desk.refused(Kind.PLAN_USE, plan=float(newest.number))
    assert "not the newest" in refused
    assert humidity_pct(house.desk.plans["closet"]) == 75


def test_a_stored_plan_of_another_version_is_none(house: House) -> None:
    house.wish(150.0)
    with durably(house.desk.page):
        house.desk.page.execute("update plan set body = json_set(body, '$.version', 99)")
    assert newest_plan(house.desk.page, "closet") is None


def test_a_plan_counts_its_steps_from_when_it_was_made() -> None:
    made_at = datetime(2026, 11, 1, 7, 0, tzinfo=UTC)
    assert to_ms(made_at) > 0
    none = KeptPlan(number=1, room="closet", made_at=made_at, cause=PlanCause.ASKED, hung_at={})
    assert none.setpoint_pct(made_at) is None


@pytest.mark.slow
def test_a_real_child_plans_over_its_pipe(tmp_path: Path) -> None:
    desk = cooled_desk(tmp_path)
    house = House(desk)
    house.plans = HumidityPlans(desk.path, scale_sd_g=0.5, now=desk.clock.now)
    house.wish(150.0)
    newest = house.newest()
    assert newest.error == ""
    assert newest.plan is not None
    assert newest.plan.groups[0].planned.p50_h == pytest.approx(156.0, abs=1.0)
    assert Outcome.APPLIED  # the wish itself was answered by the loop, at once
    house.plans.stop()
    desk.close()
