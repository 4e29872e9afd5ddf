"""What was asked for outlasts a restart of the program and of the machine, with its time left."""

from dataclasses import replace

import pytest
from loop.asking import CLOSET, PLANS, Desk

from hangroom.errors import StoreError
from hangroom.store.requests import Kind
from hangroom.terms import HumidityTarget, RelayKind, RoomPlan, Stage

HOUR_S = 3600.0


def stage_left_s(desk: Desk) -> float:
    run = desk.plans["closet"].stage_run
    assert run is not None
    assert run.ends_uptime_s is not None
    return run.ends_uptime_s - desk.clock.uptime_s()


def resting(desk: Desk) -> Desk:
    """Begin a rest of two hours, and let one hour of it pass."""
    desk.applied(Kind.STAGE, stage="rest", for_s=2 * HOUR_S, then="hold", batch=7)
    desk.tick(after_s=HOUR_S)
    return desk


@pytest.mark.parametrize("boot", [False, True])
def test_a_stage_goes_on_with_the_time_it_has_left(desk: Desk, boot: bool) -> None:
    run = resting(desk).plans["closet"].stage_run
    assert run is not None
    desk.restart(off_s=600.0, boot=boot)
    plan = desk.plans["closet"]
    assert (plan.stage, plan.humidity) == (Stage.REST, PLANS["closet"].stages[Stage.REST].humidity)
    assert stage_left_s(desk) == pytest.approx(HOUR_S - 600.0, abs=0.01)
    assert plan.stage_run is not None
    assert (plan.stage_run.then, plan.stage_run.by, plan.stage_run.batch) == (
        Stage.HOLD,
        "keeper",
        7,
    )
    desk.tick(after_s=HOUR_S - 601.0)
    assert desk.stage() is Stage.REST
    desk.tick(after_s=1.1)
    assert desk.stage() is Stage.HOLD


def test_a_second_boot_counts_on_from_the_first(desk: Desk) -> None:
    resting(desk)
    for _ in range(3):
        desk.restart(off_s=100.0, boot=True)
        desk.tick(after_s=100.0)
    assert stage_left_s(desk) == pytest.approx(HOUR_S - 600.0, abs=0.01)


@pytest.mark.parametrize("boot", [False, True])
def test_what_ended_while_nothing_ran_has_ended_and_what_follows_counts_from_then(
    desk: Desk, boot: bool
) -> None:
    desk.applied(Kind.STAGE, stage="casing-dry", for_s=HOUR_S)
    desk.restart(off_s=2 * HOUR_S, boot=boot)
    desk.tick()
    # An hour of drying, then the plan's rest of two hours: one of them is over.
    assert desk.stage() is Stage.REST
    assert stage_left_s(desk) == pytest.approx(HOUR_S, abs=5.0)
    desk.restart(off_s=20 * HOUR_S, boot=boot)
    desk.tick()
    assert desk.stage() is Stage.HANG


def test_a_gap_that_no_clock_can_tell_counts_for_nothing(desk: Desk) -> None:
    """Without a clock chip the machine wakes up in the past; then only what it lived through counts."""
    resting(desk)
    desk.restart(off_s=600.0, boot=True, wall_lost_s=HOUR_S)
    assert stage_left_s(desk) == pytest.approx(HOUR_S, abs=5.0)
    # The network's time arrives: a jump, which ends nothing.
    desk.clock.step_wall(HOUR_S)
    desk.answers.clock_jumped()
    desk.tick(after_s=10.0)
    assert stage_left_s(desk) == pytest.approx(HOUR_S - 10.0, abs=5.0)
    # And the next boot counts from the time that is right now.
    desk.restart(off_s=600.0, boot=True)
    assert stage_left_s(desk) == pytest.approx(HOUR_S - 610.0, abs=5.0)


def test_a_clock_set_while_the_program_was_down_is_seen_at_its_start(desk: Desk) -> None:
    resting(desk)
    desk.clock.step_wall(-5 * HOUR_S)
    desk.restart(off_s=60.0)
    assert stage_left_s(desk) == pytest.approx(HOUR_S - 60.0, abs=0.01)
    desk.restart(off_s=60.0, boot=True)
    assert stage_left_s(desk) == pytest.approx(HOUR_S - 120.0, abs=0.01)


@pytest.mark.parametrize("boot", [False, True])
def test_an_override_outlasts_a_restart_that_is_shorter_than_it_and_no_other(
    desk: Desk, boot: bool
) -> None:
    desk.applied(Kind.OVERRIDE, relay="exhaust-fan", closed=True, for_s=1200.0, why="smoke")
    asked_s = desk.clock.uptime_s()
    before = desk.plans["closet"].overrides[RelayKind.EXHAUST_FAN]
    desk.restart(off_s=600.0, boot=boot)
    after = desk.plans["closet"].overrides[RelayKind.EXHAUST_FAN]
    left_s = after.ends_uptime_s - desk.clock.uptime_s()
    assert left_s == pytest.approx(before.ends_uptime_s - asked_s - 600.0, abs=0.01)
    assert replace(after, ends_uptime_s=before.ends_uptime_s) == before
    desk.restart(off_s=601.0, boot=boot)
    desk.tick()
    assert desk.plans["closet"].overrides == {}
    assert desk.page["override"].count == 0
    assert desk.events()[-1][0] == "override-ended"


def test_everything_comes_back_together(desk: Desk) -> None:
    desk.applied(Kind.HUMIDITY_SETPOINT, value=79.0)
    desk.applied(Kind.TEMPERATURE_SETPOINT, room="fridge", value=6.0)
    desk.applied(Kind.OVERRIDE, relay="humidifier", closed=False, for_s=900.0, why="tank is out")
    desk.applied(Kind.CALIBRATION, sensor="rail", salt="NaCl", read_pct=74.0, temperature_c=20.0)
    desk.applied(Kind.STAGE, stage="rest", for_s=HOUR_S)
    before = dict(desk.plans)
    assert desk.restart() == before
    assert desk.events()[5:] == []


def test_what_todays_settings_no_longer_allow_is_passed_over_and_said(desk: Desk) -> None:
    desk.applied(Kind.HUMIDITY_SETPOINT, value=88.0)
    desk.applied(Kind.OVERRIDE, relay="humidifier", closed=False, for_s=900.0, why="tank is out")
    desk.applied(Kind.TEMPERATURE_SETPOINT, room="fridge", value=6.0)
    desk.applied(
        Kind.CALIBRATION,
        room="fridge",
        sensor="shelf",
        salt="NaCl",
        read_pct=74.0,
        temperature_c=5.0,
    )
    seen = len(desk.events())
    narrower = HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=90)
    closet = replace(
        CLOSET,
        humidity=narrower,
        stages={
            stage: replace(planned, humidity=narrower) for stage, planned in CLOSET.stages.items()
        },
        relays={RelayKind.EXHAUST_FAN: CLOSET.relays[RelayKind.EXHAUST_FAN]},
    )
    desk.settings = {"closet": closet}  # and the fridge is gone
    assert desk.restart() == desk.settings
    passed_over = [
        (words["room"], words["what"], words["why"]) for _, _, _, words in desk.events()[seen:]
    ]
    assert [kind for kind, *_ in desk.events()[seen:]] == ["kept-passed-over"] * 4
    assert [(room, what) for room, what, _ in passed_over] == [
        ("closet", "humidity-setpoint"),
        ("fridge", "temperature-setpoint"),
        ("closet", "override"),
        ("fridge", "calibration"),
    ]
    assert "high_limit_pct (90)" in passed_over[0][2]
    assert "no room 'fridge'" in passed_over[1][2]


def test_a_sensor_that_is_gone_takes_its_calibration_along(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.applied(Kind.CALIBRATION, sensor="floor", salt="NaCl", read_pct=74.0, temperature_c=20.0)
    monkeypatch.setattr("loop.asking.SENSORS", {"closet": ("rail",), "fridge": ("shelf",)})
    assert desk.restart() == PLANS
    assert "no sensor 'floor'" in desk.events()[-1][3]["why"]


def started_in(stage: Stage) -> dict[str, RoomPlan]:
    planned = CLOSET.stages[stage]
    return PLANS | {"closet": replace(CLOSET, stage=stage, humidity=planned.humidity)}


def test_a_timed_stage_of_the_settings_begins_with_the_first_start_only(desk: Desk) -> None:
    desk.settings = started_in(Stage.CASING_DRY)
    desk.restart()
    assert desk.stage() is Stage.CASING_DRY
    assert stage_left_s(desk) == HOUR_S
    run = desk.plans["closet"].stage_run
    assert run is not None
    assert run.by == "settings"
    desk.restart(off_s=600.0)
    assert stage_left_s(desk) == pytest.approx(HOUR_S - 600.0)
    desk.tick(after_s=HOUR_S)
    assert desk.stage() is Stage.REST
    desk.restart()
    assert desk.stage() is Stage.REST


def test_a_stage_of_the_settings_without_an_end_gives_way_to_the_one_begun_last(
    desk: Desk,
) -> None:
    desk.settings = started_in(Stage.HOLD)
    assert desk.restart() == desk.settings
    desk.applied(Kind.STAGE, stage="hang")
    assert desk.restart()["closet"].stage is Stage.HANG


def test_a_database_that_cannot_be_used_at_a_start_is_named_with_what_to_do(desk: Desk) -> None:
    desk.page.execute("drop table override")
    with pytest.raises(StoreError, match="restore a backup"):
        desk.restart()
