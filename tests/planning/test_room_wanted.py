"""Between the air that the planner reckons in and the setpoints that a room is told."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from loop.asking import CLOSET, HUMIDITY
from planning.closed_forms import question
from planning.made_forecast import GENTLE

from hangroom.errors import InputError
from hangroom.forecasting.question import Prepared
from hangroom.forecasting.room_wanted import (
    HangingGroup,
    hang_target,
    in_setpoints,
    kept_off_pct,
    moved,
    setpoint_limits,
    wanted_of,
)
from hangroom.product.forecast import AirPlanned, Remark
from hangroom.product.humidity_plan import (
    GroupPlanned,
    HumidityPlan,
    HumidityStep,
    SetpointLimits,
)
from hangroom.store.plans import Wish
from hangroom.terms import Stage

NOW = datetime(2026, 11, 26, 15, 0, tzinfo=UTC)
HUNG_AT = NOW - timedelta(hours=24)


def hanging(
    *, kept_pct: float = 75.0, wanted_at: datetime | None = None, wish: bool = True
) -> HangingGroup:
    asked = replace(
        question(),
        plan=(AirPlanned(from_h=24.0, temperature_c=13.0, humidity_pct=kept_pct),),
    )
    about = Prepared(
        group_number=1,
        hung_at=HUNG_AT,
        room="closet",
        recipe="tried",
        question=asked,
        assumed=(),
    )
    wished = Wish(group_number=1, room="closet", wanted_at=wanted_at, asked_at=NOW, asked_by="Ada")
    return HangingGroup(name="group A", about=about, wish=wished if wish else None)


def plan_of(*humidities_pct: float) -> HumidityPlan:
    planned = GroupPlanned(
        group="group A", wanted_h=90.0, asked=True, as_it_is=GENTLE, planned=GENTLE
    )
    return HumidityPlan(
        steps=tuple(
            HumidityStep(after_h=24.0 * day, humidity_pct=humidity_pct)
            for day, humidity_pct in enumerate(humidities_pct)
        ),
        groups=(planned,),
        remarks=(
            Remark(code="plan-alone", figures={"group": "group A", "humidity_pct": 80.0}),
            Remark(code="plan-never", figures={"group": "group A", "never_pct": 60.0}),
        ),
    )


def test_a_room_that_keeps_moister_than_its_setpoint_is_told_to_aim_lower() -> None:
    # Set to 75 %, kept at 76.4 %: what shall be 80 % in the air is a setpoint of 78.6 %.
    off_pct = kept_off_pct(CLOSET, HUMIDITY, [hanging(kept_pct=76.4)])
    assert off_pct == pytest.approx(1.4)
    limits = setpoint_limits(HUMIDITY)
    # Band 3 inside 50 and 92, in setpoints and then in the air they bring.
    assert (limits.lowest_pct, limits.highest_pct) == (53.01, 88.99)
    in_the_air = moved(limits, off_pct)
    assert in_the_air.lowest_pct == pytest.approx(54.41)
    assert in_the_air.highest_pct == pytest.approx(90.39)
    told = in_setpoints(plan_of(80.0, 77.0), limits, off_pct)
    assert [step.humidity_pct for step in told.steps] == [78.6, 75.6]
    alone, never = told.remarks
    assert alone.figures["humidity_pct"] == pytest.approx(78.6)
    assert never.figures["never_pct"] == 60.0


def test_further_than_its_band_no_room_is_taken_to_keep_off() -> None:
    assert kept_off_pct(CLOSET, HUMIDITY, [hanging(kept_pct=85.0)]) == 3.0
    assert kept_off_pct(CLOSET, HUMIDITY, [hanging(kept_pct=60.0)]) == -3.0


def test_outside_hanging_nothing_is_known_of_how_it_keeps() -> None:
    resting = replace(CLOSET, stage=Stage.REST)
    assert kept_off_pct(resting, HUMIDITY, [hanging(kept_pct=76.4)]) == 0.0
    assert kept_off_pct(CLOSET, HUMIDITY, []) == 0.0


def test_a_setpoint_outside_the_limits_throws_the_plan_away() -> None:
    limits = SetpointLimits(lowest_pct=53.01, highest_pct=88.99)
    with pytest.raises(InputError, match="outside the room"):
        in_setpoints(plan_of(80.0, 52.0), limits, 0.0)
    with pytest.raises(InputError, match="outside the room"):
        in_setpoints(plan_of(90.0), limits, 0.0)
    # Rounding alone is no fault, and never left outside.
    assert in_setpoints(plan_of(89.0), limits, 0.0).steps[0].humidity_pct == 88.99


def test_moments_are_told_in_hours_since_hanging() -> None:
    (soon,) = wanted_of([hanging(wanted_at=NOW + timedelta(hours=40))], now=NOW)
    assert (soon.wanted_h, soon.asked) == (64.0, True)
    (gone,) = wanted_of([hanging(wanted_at=NOW)], now=NOW)
    assert (gone.wanted_h, gone.asked) == (None, True)
    (shares,) = wanted_of([hanging(wish=False)], now=NOW)
    assert (shares.wanted_h, shares.asked) == (None, False)


def test_a_stage_of_its_own_has_its_own_target() -> None:
    assert hang_target(CLOSET) == HUMIDITY
    moister = replace(HUMIDITY, setpoint_pct=85.0)
    resting = replace(CLOSET, stage=Stage.REST, humidity=moister)
    assert hang_target(resting) == HUMIDITY
    assert hang_target(replace(CLOSET, stages={})) == HUMIDITY
