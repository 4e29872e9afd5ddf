"""Plans tried on the forecaster itself: each is put into the question and asked anew."""

from dataclasses import replace

import pytest

from hangroom.forecast import forecast
from hangroom.forecast.plan import PARTICLES, plan, plan_room
from hangroom.product.drying_lights import GREEN_FROM_RATIO
from hangroom.product.forecast import (
    AirPlanned,
    AirSeen,
    Forecast,
    Question,
    TaggedStick,
    Weighing,
)
from hangroom.product.humidity_plan import GroupWanted, HumidityPlan, SetpointLimits
from hangroom.product.planned_air import air_under

LOWEST_PCT, HIGHEST_PCT = 60.1, 88.9
HUNG_G, GREEN_G = 68.0, 80.0


def question(
    *, now_h: float = 24.0, humidity_pct: float = 75.0, target: float = 0.62, lost: float = 0.06
) -> Question:
    """Three weighed sticks of twelve, 19 mm, hung at 85 % of their green weight at 13 degC."""
    tags = ("A1", "A2", "A3")
    return Question(
        tagged=tuple(
            TaggedStick(tag=tag, green_weight_g=GREEN_G, hang_weight_g=HUNG_G) for tag in tags
        ),
        sticks_in_group=12,
        target_yield_ratio=target,
        water_fraction=0.565,
        diameter_mm=19.0,
        diameter_measured=True,
        scale_sd_g=0.5,
        now_h=now_h,
        air=tuple(
            AirSeen(at_h=float(hour), temperature_c=13.0, humidity_pct=humidity_pct)
            for hour in range(int(now_h) + 1)
        ),
        plan=(AirPlanned(from_h=0.0, temperature_c=13.0, humidity_pct=humidity_pct),),
        weighings=tuple(
            Weighing(at_h=now_h, tag=tag, weight_g=HUNG_G * (1.0 - lost) + apart_g)
            for tag, apart_g in zip(tags, (-0.3, 0.1, 0.4), strict=True)
        ),
    )


def under(asked: Question, found: HumidityPlan, *, moved_pct: float = 0.0) -> Question:
    """The question with a plan to come, or one a little off it, after what was planned so far."""
    to_come = [
        # Not at this very moment: the newest reading was taken under what was planned before.
        replace(air, from_h=air.from_h + 1e-6, humidity_pct=air.humidity_pct + moved_pct)
        for air in air_under(asked, found.steps)
    ]
    return replace(asked, plan=(*asked.plan, *to_come))


def asked_anew(asked: Question, found: HumidityPlan, *, moved_pct: float = 0.0) -> Forecast:
    return forecast(under(asked, found, moved_pct=moved_pct), particles=PARTICLES)


@pytest.mark.parametrize("wanted_h", [145.0, 160.0, 200.0])
def test_the_middle_of_the_forecast_lands_within_an_hour_of_what_is_wanted(
    wanted_h: float,
) -> None:
    asked = question()
    found = plan(asked, wanted_h=wanted_h, lowest_pct=LOWEST_PCT, highest_pct=HIGHEST_PCT)
    told = asked_anew(asked, found)
    assert told.p50_h == pytest.approx(wanted_h, abs=1.0)
    # The plan's own forecast is the one that is told, but for the millionth of an hour in `under`.
    assert told.p50_h == pytest.approx(found.groups[0].planned.p50_h, abs=0.01)
    assert found.remarks[0].code == "plan-lands"


def test_other_draws_of_the_same_beliefs_land_near_it_too() -> None:
    asked = question()
    found = plan(asked, wanted_h=150.0, lowest_pct=LOWEST_PCT, highest_pct=HIGHEST_PCT)
    told = forecast(under(asked, found), particles=2048, seed=20261)
    assert told.p10_h is not None
    assert told.p50_h is not None
    assert told.p90_h is not None
    # What the draw moves must be far below what the forecast itself leaves open.
    assert abs(told.p50_h - 150.0) < 0.15 * (told.p90_h - told.p10_h)


@pytest.mark.parametrize(("humidity_pct", "now_h"), [(60.0, 6.0), (75.0, 24.0), (85.0, 48.0)])
def test_the_gentlest_plan_keeps_the_surface_green(humidity_pct: float, now_h: float) -> None:
    asked = question(now_h=now_h, humidity_pct=humidity_pct, lost=0.03)
    found = plan(asked, lowest_pct=40.0, highest_pct=HIGHEST_PCT)
    told = asked_anew(asked, found)
    bound_ratio = min(GREEN_FROM_RATIO, told.surface_to_core_ratio)
    assert told.least_surface_to_core_ratio >= bound_ratio - 0.001
    # and no gentler than it need be: drier by two points, and the surface leaves its bound
    drier = asked_anew(asked, found, moved_pct=-2.0)
    assert drier.least_surface_to_core_ratio < bound_ratio


def test_drier_sooner_moister_later() -> None:
    asked = question()
    first = [
        plan(asked, wanted_h=wanted_h, lowest_pct=LOWEST_PCT, highest_pct=HIGHEST_PCT)
        .steps[0]
        .humidity_pct
        for wanted_h in (135.0, 160.0, 220.0)
    ]
    assert first == sorted(first)
    assert first[0] < first[-1]


def test_a_long_dry_down_comes_down_in_steps_a_day_apart() -> None:
    asked = question(target=0.50)
    found = plan(asked, lowest_pct=LOWEST_PCT, highest_pct=HIGHEST_PCT)
    falls = [step.humidity_pct for step in found.steps]
    assert len(falls) > 1
    assert falls == sorted(falls, reverse=True)
    assert all(step.after_h % 24.0 == 0.0 for step in found.steps)


def test_two_groups_meet_between_what_each_would_want() -> None:
    dry, supple = question(target=0.60), question(target=0.70)
    found = plan_room(
        [
            GroupWanted(group="group A", question=supple, wanted_h=110.0),
            GroupWanted(group="group B", question=dry, wanted_h=170.0),
        ],
        SetpointLimits(lowest_pct=LOWEST_PCT, highest_pct=HIGHEST_PCT),
    )
    alone = sorted(
        float(remark.figures["humidity_pct"])
        for remark in found.remarks
        if remark.code == "plan-alone"
    )
    assert alone[0] < found.steps[0].humidity_pct < alone[1]

    def squares(by_pct: float) -> float:
        total = 0.0
        for asked, wanted_h in ((supple, 110.0), (dry, 170.0)):
            told = asked_anew(asked, found, moved_pct=by_pct)
            assert told.p50_h is not None
            total += (told.p50_h - wanted_h) ** 2
        return total

    assert squares(0.0) <= min(squares(-1.0), squares(1.0))
