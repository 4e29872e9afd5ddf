"""Setpoints from the page: checked against the limits, one for each stage."""

import pytest
from loop.asking import Desk

from hangroom.store.requests import Kind
from hangroom.terms import RoomPlan, Stage


def humidity_pct(plan: RoomPlan) -> float:
    assert plan.humidity is not None
    return plan.humidity.setpoint_pct


def test_a_humidity_between_the_limits_is_applied(desk: Desk) -> None:
    said = desk.applied(Kind.HUMIDITY_SETPOINT, value=80.0)
    assert "80 %" in said
    assert humidity_pct(desk.plans["closet"]) == 80
    assert desk.events() == [
        (
            "humidity-setpoint",
            "closet",
            {"setpoint_pct": 80.0},
            {"by": "keeper", "stage": "hang"},
        )
    ]


def test_a_temperature_between_the_limits_is_applied(desk: Desk) -> None:
    said = desk.applied(Kind.TEMPERATURE_SETPOINT, room="fridge", value=6.5)
    assert "6.5 °C" in said
    target = desk.plans["fridge"].temperature
    assert target is not None
    assert (target.setpoint_c, target.band_c) == (6.5, 1)


@pytest.mark.parametrize(
    ("room", "kind", "value", "says"),
    [
        # The band of 3 must lie inside 50 to 92, that of 1 inside 0 to 12.
        ("closet", Kind.HUMIDITY_SETPOINT, 89.0, "high_limit_pct (92)"),
        ("closet", Kind.HUMIDITY_SETPOINT, 53.0, "low_limit_pct (50)"),
        ("closet", Kind.HUMIDITY_SETPOINT, 1e9, "limit"),
        ("closet", Kind.TEMPERATURE_SETPOINT, 5.0, "acts on temperature"),
        ("fridge", Kind.HUMIDITY_SETPOINT, 75.0, "acts on humidity"),
        ("fridge", Kind.TEMPERATURE_SETPOINT, 11.0, "high_limit_c (12)"),
        ("fridge", Kind.TEMPERATURE_SETPOINT, 1.0, "low_limit_c (0)"),
        ("fridge", Kind.TEMPERATURE_SETPOINT, -1e308, "limit"),
        ("closet", Kind.HUMIDITY_SETPOINT, None, "no 'value'"),
        ("closet", Kind.HUMIDITY_SETPOINT, "80", "no 'value'"),
        ("closet", Kind.HUMIDITY_SETPOINT, True, "no 'value'"),
    ],
)
def test_a_setpoint_that_does_not_hold_is_refused_with_the_reason(
    desk: Desk, room: str, kind: Kind, value: float | str | None, says: str
) -> None:
    assert says in desk.refused(kind, room=room, value=value)
    assert desk.restart() == desk.settings


@pytest.mark.parametrize("value", [53.001, 88.999])
def test_a_setpoint_just_inside_is_applied(desk: Desk, value: float) -> None:
    desk.applied(Kind.HUMIDITY_SETPOINT, value=value)


def test_a_setpoint_belongs_to_the_stage_it_was_asked_for_in(desk: Desk) -> None:
    desk.applied(Kind.HUMIDITY_SETPOINT, value=78.0)
    desk.applied(Kind.STAGE, stage="rest", for_s=3600.0)
    assert humidity_pct(desk.plans["closet"]) == 85
    desk.applied(Kind.HUMIDITY_SETPOINT, value=87.0)
    desk.applied(Kind.STAGE, stage="hang")
    assert humidity_pct(desk.plans["closet"]) == 78
    desk.applied(Kind.STAGE, stage="rest", for_s=3600.0)
    assert humidity_pct(desk.plans["closet"]) == 87
    # And the same after a restart.
    assert humidity_pct(desk.restart()["closet"]) == 87
    desk.applied(Kind.STAGE, stage="hang")
    assert humidity_pct(desk.plans["closet"]) == 78
    assert desk.plans["closet"].stage is Stage.HANG
