"""Plans against a group whose plan follows from a closed form, and a joint one against scipy."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planning.closed_forms import (
    constant_rate,
    flat_floors,
    humidity_for_pct,
    question,
    wanted,
)
from scipy.optimize import minimize_scalar

from hangroom.errors import InputError
from hangroom.product.forecast import AirPlanned, Forecast
from hangroom.product.forecast_words import say
from hangroom.product.humidity_plan import (
    GroupWanted,
    HumidityPlan,
    HumidityStep,
    SetpointLimits,
)
from hangroom.product.humidity_planning import plan_humidity
from hangroom.product.planned_air import air_under

ROOM = SetpointLimits(lowest_pct=55.0, highest_pct=88.0)
GREEN = 0.65


def planned(
    *groups: GroupWanted, limits: SetpointLimits = ROOM, yield_ratio: float = 0.78
) -> HumidityPlan:
    return plan_humidity(
        groups, limits=limits, ask=constant_rate(yield_ratio), floors_of=flat_floors
    )


def codes(plan: HumidityPlan) -> list[str]:
    return [remark.code for remark in plan.remarks]


@pytest.mark.parametrize("hours", [140.0, 180.0, 240.0, 400.0])
def test_the_humidity_is_the_one_that_the_closed_form_gives(hours: float) -> None:
    plan = planned(wanted(at_h=24.0 + hours))
    (step,) = plan.steps
    assert step.after_h == 0.0
    assert step.humidity_pct == pytest.approx(humidity_for_pct(hours), abs=0.02)
    (group,) = plan.groups
    assert group.miss_h == pytest.approx(0.0, abs=1.0)
    assert codes(plan)[0] == "plan-lands"


def test_as_gently_as_possible_ends_at_the_bound_of_the_surface() -> None:
    plan = planned(wanted(at_h=None))
    # 1 - 1.4 (0.93 - H) = 0.65 gives H = 0.68: the driest air whose surface is still green.
    assert [step.humidity_pct for step in plan.steps] == [pytest.approx(68.0, abs=0.1)]
    assert plan.groups[0].planned.least_surface_to_core_ratio >= GREEN - 0.0005
    assert codes(plan)[0] == "plan-gently"


def test_sooner_than_the_surface_bears_gives_the_nearest_and_the_price_of_more() -> None:
    plan = planned(wanted(at_h=24.0 + 60.0))
    assert plan.steps[0].humidity_pct == pytest.approx(68.0, abs=0.1)
    late, hurry = plan.remarks[:2]
    assert (late.code, hurry.code) == ("plan-late-surface", "plan-could-hurry")
    # 0.18 / (0.008 x 0.25) = 90 h at the bound; 0.50 = 1 - 1.4 x 0.357: 63.0 h
    assert late.figures["middle_h"] == pytest.approx(114.0, abs=0.5)
    assert late.figures["hours"] == pytest.approx(30.0, abs=0.5)
    assert hurry.figures["middle_h"] == pytest.approx(87.0, abs=0.5)
    assert "nearest it can" in say(late)


def test_where_the_room_is_the_limit_it_says_so() -> None:
    moist = SetpointLimits(lowest_pct=80.0, highest_pct=88.0)
    # At 80 %: 0.18 / (0.008 x 0.13) = 173 h; at 88 %: 0.18 / (0.008 x 0.05) = 450 h.
    late = planned(wanted(at_h=24.0 + 100.0), limits=moist)
    assert late.steps == (HumidityStep(after_h=0.0, humidity_pct=80.0),)
    assert codes(late)[0] == "plan-late-room"
    assert late.groups[0].planned.p50_h == pytest.approx(24.0 + 173.1, abs=0.1)
    early = planned(wanted(at_h=24.0 + 900.0), limits=moist)
    assert early.steps == (HumidityStep(after_h=0.0, humidity_pct=88.0),)
    assert codes(early)[0] == "plan-early-room"
    assert early.groups[0].miss_h == pytest.approx(450.0 - 900.0, abs=0.1)


def test_a_room_too_dry_to_be_gentle_is_held_at_its_moistest() -> None:
    dry = SetpointLimits(lowest_pct=50.0, highest_pct=62.0)
    plan = planned(wanted(at_h=None), limits=dry)
    assert plan.steps == (HumidityStep(after_h=0.0, humidity_pct=62.0),)
    assert codes(plan)[0] == "plan-not-gentle"
    assert "Even at 62 %" in say(plan.remarks[0])


def test_what_it_costs_is_told_against_the_room_as_it_is() -> None:
    # The room stands at 75 %: ratio 1 - 1.4 x 0.18 = 0.748.
    drier = planned(wanted(at_h=24.0 + 95.0))
    cost = next(remark for remark in drier.remarks if remark.code == "plan-costs-surface")
    assert cost.figures["before_ratio"] == pytest.approx(0.748)
    moister = planned(wanted(at_h=24.0 + 240.0))
    # 0.93 - 0.18 / (0.008 x 240) = 0.83625
    cost = next(remark for remark in moister.remarks if remark.code == "plan-costs-water")
    assert cost.figures["more_pct"] == pytest.approx(8.63, abs=0.02)


@pytest.mark.parametrize(("hours", "told"), [(270.0, False), (290.0, True)])
def test_air_in_which_mould_thrives_is_told(hours: float, *, told: bool) -> None:
    # 0.93 - 0.18 / (0.008 x 281.25) = 0.85
    assert ("plan-costs-mould" in codes(planned(wanted(at_h=24.0 + hours)))) is told


def test_two_groups_in_one_room_miss_as_little_as_can_be_in_squares() -> None:
    plan = planned(
        wanted("group A", at_h=24.0 + 200.0, target=0.66),
        wanted("group B", at_h=24.0 + 200.0, target=0.60),
    )

    def squares(pull: float) -> float:
        return sum((left / (0.008 * pull) - 200.0) ** 2 for left in (0.12, 0.18))

    best = minimize_scalar(squares, bounds=(0.05, 0.24), method="bounded", options={"xatol": 1e-7})
    assert plan.steps[0].humidity_pct == pytest.approx(100.0 * (0.93 - best.x), abs=0.05)
    assert codes(plan)[:2] == ["plan-early-shared", "plan-late-shared"]
    alone = {
        remark.figures["group"]: remark.figures["humidity_pct"]
        for remark in plan.remarks
        if remark.code == "plan-alone"
    }
    assert alone == {
        "group A": pytest.approx(humidity_for_pct(200.0, target=0.66), abs=0.02),
        "group B": pytest.approx(humidity_for_pct(200.0), abs=0.02),
    }
    assert "Move one of the groups" in say(plan.remarks[0])


def test_the_worst_surface_binds_the_room() -> None:
    # A wants to be quick, B only gentle: B's surface holds A up.
    plan = planned(wanted("group A", at_h=24.0 + 50.0), wanted("group B", at_h=None))
    assert plan.steps[0].humidity_pct == pytest.approx(68.0, abs=0.1)
    assert codes(plan)[0] == "plan-late-surface"


def test_each_day_goes_by_the_group_that_bears_the_least_dry_air() -> None:
    shapes = {"group A": (75.0,) * 2 + (60.0,) * 19, "group B": (70.0,) * 4 + (60.0,) * 17}

    def floors_of(
        each: GroupWanted, _now: Forecast, _limits: SetpointLimits, _ratio: float
    ) -> tuple[float, ...]:
        return shapes[each.group]

    groups = [wanted("group A", at_h=None), wanted("group B", at_h=None)]
    plan = plan_humidity(groups, limits=ROOM, ask=constant_rate(), floors_of=floors_of)
    # Days 0 and 1 by A, 2 and 3 by B: 5 points down and then 10, wherever that lies. The third
    # step lies below what the room may be set to.
    assert [step.after_h for step in plan.steps] == [0.0, 48.0, 96.0]
    falls = [step.humidity_pct for step in plan.steps]
    assert falls[0] - falls[1] == pytest.approx(5.0, abs=0.02)
    assert falls[1] - falls[2] == pytest.approx(min(10.0, falls[1] - 55.0), abs=0.02)


def test_a_group_at_its_target_needs_no_plan() -> None:
    plan = planned(wanted(at_h=100.0, target=0.80))
    assert plan.steps == ()
    assert codes(plan) == ["plan-arrived"]


@pytest.mark.parametrize(
    ("groups", "limits", "said"),
    [
        ((), ROOM, "No group hangs there"),
        ((wanted(at_h=24.0),), ROOM, "a time that is past"),
        ((wanted(at_h=99.0),), SetpointLimits(lowest_pct=80.0, highest_pct=79.0), "no humidity"),
    ],
)
def test_what_cannot_be_planned_is_refused(
    groups: tuple[GroupWanted, ...], limits: SetpointLimits, said: str
) -> None:
    with pytest.raises(InputError, match=said):
        planned(*groups, limits=limits)


def test_temperatures_of_the_question_s_own_plan_stay() -> None:
    group = replace(
        wanted(at_h=100.0),
        question=replace(
            question(),
            plan=(
                AirPlanned(from_h=0.0, temperature_c=13.0, humidity_pct=75.0),
                AirPlanned(from_h=20.0, temperature_c=12.0, humidity_pct=74.0),
                AirPlanned(from_h=60.0, temperature_c=10.0, humidity_pct=70.0),
            ),
        ),
    )
    steps = (
        HumidityStep(after_h=0.0, humidity_pct=82.0),
        HumidityStep(after_h=24.0, humidity_pct=78.0),
    )
    air = air_under(group.question, steps)
    assert [(each.from_h, each.humidity_pct, each.temperature_c) for each in air] == [
        (24.0, 82.0, 12.0),
        (48.0, 78.0, 12.0),
        (60.0, 78.0, 10.0),
    ]


floors = st.lists(st.floats(40.0, 100.0), min_size=21, max_size=21).map(tuple)


@settings(deadline=None)
@given(
    st.lists(st.none() | st.floats(30.0, 900.0), min_size=1, max_size=3),
    st.lists(st.floats(0.4, 0.9), min_size=3, max_size=3),
    st.tuples(st.floats(30.0, 95.0), st.floats(30.0, 95.0)),
    floors,
)
def test_limits_hold_and_a_day_has_one_change_whatever_is_wanted(
    moments: list[float | None],
    targets: list[float],
    ends: tuple[float, float],
    day_floors: tuple[float, ...],
) -> None:
    limits = SetpointLimits(lowest_pct=min(ends), highest_pct=max(ends))

    def floors_of(
        _wanted: GroupWanted, _now: Forecast, _limits: SetpointLimits, _ratio: float
    ) -> tuple[float, ...]:
        return day_floors

    groups = [
        wanted(f"group {number}", at_h=at_h, target=target)
        for number, (at_h, target) in enumerate(zip(moments, targets, strict=False))
    ]
    plan = plan_humidity(groups, limits=limits, ask=constant_rate(), floors_of=floors_of)
    for step in plan.steps:
        assert limits.lowest_pct <= step.humidity_pct <= limits.highest_pct
    assert not plan.steps or plan.steps[0].after_h == 0.0
    for before, after in pairwise(plan.steps):
        assert after.after_h - before.after_h >= 24.0
        assert after.humidity_pct != before.humidity_pct
    gentlest = 1.0 - 1.4 * max(0.93 - limits.highest_pct / 100.0, 0.0)
    if gentlest >= GREEN and plan.steps:
        for each in plan.groups:
            if each.planned.yield_ratio > each.planned.target_yield_ratio:
                assert each.planned.least_surface_to_core_ratio >= GREEN - 0.0005
    for remark in plan.remarks:
        assert "has no sentence" not in say(remark)
