"""What a room's stages ask for: usual figures, the keeper's own, and every fault at once."""

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.errors import SettingsError
from hangroom.product.findings import Standing
from hangroom.settings import check_settings
from hangroom.settings.stages import USUAL_STAGES
from hangroom.terms import RoomPlan, Stage, StagePlan

ROOM = """
[room.closet]
title = "Closet"
[room.closet.humidity]
setpoint_pct = 76.0
band_pct = 3.0
low_limit_pct = 55.0
high_limit_pct = 92.0
[room.closet.temperature]
setpoint_c = 12.0
[room.closet.sensor.rail]
kind = "dht22"
pin = 4
"""


def plan_of(more: str = "", *, room: str = ROOM) -> RoomPlan:
    return (
        check_settings(tomllib.loads(room + more), source="my.toml").room["closet"].plan("closet")
    )


def stage(name: Stage, more: str = "") -> StagePlan:
    return plan_of(more).stages[name]


def humidity_pct(plan: StagePlan | RoomPlan) -> float:
    assert plan.humidity is not None
    return plan.humidity.setpoint_pct


def faults(more: str) -> list[str]:
    with pytest.raises(SettingsError) as refused:
        plan_of(more)
    return refused.value.faults


def test_every_stage_has_a_plan_and_every_usual_figure_says_where_it_comes_from() -> None:
    assert set(plan_of().stages) == set(Stage) == set(USUAL_STAGES)
    assert {usual.source.standing for usual in USUAL_STAGES.values()} == {Standing.COMMON_PRACTICE}


def test_the_usual_stages() -> None:
    """Common practice, no source: an hour of moving air, a night of moist rest."""
    assert (stage(Stage.CASING_DRY).for_s, stage(Stage.CASING_DRY).then) == (3600, Stage.HANG)
    assert (stage(Stage.REST).for_s, stage(Stage.REST).then) == (12 * 3600, Stage.HANG)
    for endless in (Stage.HANG, Stage.HOLD, Stage.EMPTY):
        assert (stage(endless).for_s, stage(endless).then) == (None, None)
    assert humidity_pct(stage(Stage.HANG)) == 76
    assert humidity_pct(stage(Stage.REST)) == 85
    assert humidity_pct(stage(Stage.HOLD)) == 80


@given(
    setpoint_pct=st.floats(10, 99),
    band_pct=st.floats(0.5, 20),
    low_pct=st.floats(0, 100),
    high_pct=st.floats(0, 100),
)
def test_the_usual_stages_fit_into_every_rooms_limits(
    setpoint_pct: float, band_pct: float, low_pct: float, high_pct: float
) -> None:
    room: dict[str, Any] = tomllib.loads(ROOM)
    room["room"]["closet"]["humidity"] = {
        "setpoint_pct": setpoint_pct,
        "band_pct": band_pct,
        "low_limit_pct": low_pct,
        "high_limit_pct": high_pct,
    }
    try:
        plan = check_settings(room, source="my.toml").room["closet"].plan("closet")
    except SettingsError:
        return  # the room's own band does not fit between its own limits
    for planned in plan.stages.values():
        assert planned.humidity is not None
        assert planned.humidity.fault() is None
        assert planned.humidity.setpoint_pct >= setpoint_pct


def test_a_room_that_acts_on_no_humidity_asks_for_none_in_any_stage() -> None:
    room = ROOM.replace("[room.closet.humidity]", "[unused]")
    room = room[: room.index("[unused]")] + room[room.index("[room.closet.temp") :]
    assert all(planned.humidity is None for planned in plan_of(room=room).stages.values())


def test_the_keepers_own_figures_go_before_the_usual_ones_and_the_rest_is_as_in_the_room() -> None:
    plan = plan_of(
        """
        [room.closet.stage_plan.rest]
        for_h = 6
        then = "hold"
        humidity.setpoint_pct = 87.0
        humidity.high_limit_pct = 95.0
        temperature.setpoint_c = 8.0
        [room.closet.stage_plan.hang]
        for_h = 24.5
        """
    )
    rest = plan.stages[Stage.REST]
    assert (rest.for_s, rest.then) == (6 * 3600, Stage.HOLD)
    assert rest.humidity is not None
    assert rest.temperature is not None
    assert (rest.humidity.setpoint_pct, rest.humidity.band_pct) == (87, 3)
    assert (rest.humidity.low_limit_pct, rest.humidity.high_limit_pct) == (55, 95)
    assert (rest.temperature.setpoint_c, rest.temperature.band_c) == (8, 1)
    # A timed stage of which nothing is said goes to hang.
    assert (plan.stages[Stage.HANG].for_s, plan.stages[Stage.HANG].then) == (88_200, Stage.HANG)
    assert humidity_pct(plan) == 76


def test_a_room_starts_with_what_its_first_stage_asks_for() -> None:
    plan = plan_of(room=ROOM.replace('title = "Closet"', 'title = "Closet"\nstage = "rest"'))
    assert (plan.stage, humidity_pct(plan), plan.stage_run) == (Stage.REST, 85, None)


@pytest.mark.parametrize(
    ("more", "says", "remedy"),
    [
        (
            "[room.closet.stage_plan.resst]",
            "room.closet.stage_plan.resst",
            "'casing-dry', 'hang', 'rest', 'hold' or 'empty'",
        ),
        (
            '[room.closet.stage_plan.rest]\nthen = "smoke"',
            "room.closet.stage_plan.rest.then ('smoke')",
            "'casing-dry', 'hang', 'rest', 'hold' or 'empty'",
        ),
        (
            "[room.closet.stage_plan.rest]\nfor_hours = 3",
            "room.closet.stage_plan.rest has no setting 'for_hours'",
            "did you mean 'for_h'",
        ),
        (
            "[room.closet.stage_plan.rest]\nfor_h = 0",
            "room.closet.stage_plan.rest.for_h (0)",
            "greater than or equal to 0.05",
        ),
        (
            "[room.closet.stage_plan.rest]\nfor_h = 1441",
            "room.closet.stage_plan.rest.for_h (1441)",
            "less than or equal to 1440",
        ),
        (
            '[room.closet.stage_plan.hold]\nthen = "hang"',
            "room.closet: stage_plan.hold: then says what follows",
            "add for_h or remove it",
        ),
        (
            "[room.closet.stage_plan.rest]\nhumidity.setpoint_pct = 90.0",
            "room.closet: stage_plan.rest.humidity: high_limit_pct (92) must lie above the band",
            "move the limit outwards",
        ),
        (
            "[room.closet.stage_plan.hang]\ntemperature.low_limit_c = 12.0",
            "room.closet: stage_plan.hang.temperature: low_limit_c (12) must lie below the band",
            "move the limit outwards",
        ),
        (
            "[room.closet.stage_plan.hang]\nhumidity.setpoint = 12.0",
            "room.closet.stage_plan.hang.humidity has no setting 'setpoint'",
            "did you mean 'setpoint_pct'",
        ),
    ],
)
def test_a_fault_is_named_with_what_to_do(more: str, says: str, remedy: str) -> None:
    (fault,) = faults(more)
    assert fault.startswith(f"my.toml: {says}"), fault
    assert remedy in fault


def test_a_target_for_what_the_room_does_not_act_on_is_a_fault() -> None:
    room = ROOM.replace("[room.closet.temperature]\nsetpoint_c = 12.0\n", "")
    with pytest.raises(SettingsError, match=r"the room has no \[temperature\] table; add one"):
        plan_of("[room.closet.stage_plan.rest]\ntemperature.setpoint_c = 8.0", room=room)


def test_all_faults_of_the_stages_are_named_at_once() -> None:
    found = faults(
        """
        [room.closet.stage_plan.hold]
        then = "hang"
        humidity.setpoint_pct = 91.0
        [room.closet.stage_plan.rest]
        humidity.setpoint_pct = 40.0
        temperature.band_c = 10.0
        temperature.low_limit_c = 5.0
        """
    )
    assert len(found) == 4
