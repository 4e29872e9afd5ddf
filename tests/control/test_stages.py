"""Stages of a room: how one begins, how one ends by itself, and what it lets the relays do."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.memory import starting_state
from hangroom.control.room import decide
from hangroom.control.stages import LONGEST_STAGE_S, begun, ended, plan_of, with_plan_of
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    StagePlan,
)

HUMIDITY = HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92)
MOIST = HumidityTarget(setpoint_pct=85, band_pct=3, low_limit_pct=50, high_limit_pct=92)
PLAN = RoomPlan(
    name="closet",
    stage=Stage.HANG,
    humidity=HUMIDITY,
    temperature=None,
    relays=dict.fromkeys(RelayKind, RelayRules(min_on_s=0, min_off_s=0)),
    stages={
        Stage.CASING_DRY: StagePlan(
            humidity=HUMIDITY, temperature=None, for_s=3600, then=Stage.REST
        ),
        Stage.HANG: StagePlan(humidity=HUMIDITY, temperature=None),
        Stage.REST: StagePlan(humidity=MOIST, temperature=None, for_s=7200, then=Stage.HOLD),
        Stage.HOLD: StagePlan(humidity=HUMIDITY, temperature=None),
        Stage.EMPTY: StagePlan(humidity=HUMIDITY, temperature=None),
    },
)


def in_stage(
    stage: Stage, *, for_s: float | None, then: Stage | None = None, at_s: float = 100.0
) -> RoomPlan:
    plan = begun(PLAN, stage, for_s=for_s, then=then, by="keeper", batch=3, uptime_s=at_s)
    assert isinstance(plan, RoomPlan)
    return plan


def test_a_stage_asks_for_what_its_plan_says() -> None:
    assert in_stage(Stage.REST, for_s=60).humidity == MOIST
    assert in_stage(Stage.HANG, for_s=None).humidity == HUMIDITY


def test_a_stage_without_a_plan_of_its_own_asks_what_is_asked_at_the_moment() -> None:
    bare = replace(PLAN, stages={}, humidity=MOIST)
    assert plan_of(bare, Stage.HOLD) == StagePlan(humidity=MOIST, temperature=None)


@pytest.mark.parametrize("for_s", [0.0, -1.0, nan, inf, -inf, LONGEST_STAGE_S + 1])
def test_a_time_that_cannot_be_is_refused(for_s: float) -> None:
    refused = begun(PLAN, Stage.REST, for_s=for_s, then=None, by="keeper", batch=None, uptime_s=0.0)
    assert isinstance(refused, str)
    assert "at most 60 days" in refused


def test_drying_casings_needs_an_end_and_something_that_moves_air() -> None:
    endless = begun(
        PLAN, Stage.CASING_DRY, for_s=None, then=None, by="keeper", batch=None, uptime_s=0.0
    )
    still = begun(
        replace(PLAN, relays={RelayKind.HUMIDIFIER: PLAN.relays[RelayKind.HUMIDIFIER]}),
        Stage.CASING_DRY,
        for_s=3600.0,
        then=None,
        by="keeper",
        batch=None,
        uptime_s=0.0,
    )
    assert isinstance(endless, str)
    assert "Give it a time" in endless
    assert isinstance(still, str)
    assert "moves air" in still


@pytest.mark.parametrize(
    ("stage", "then", "follows"),
    [
        pytest.param(Stage.REST, Stage.EMPTY, Stage.EMPTY, id="what the person says"),
        pytest.param(Stage.REST, None, Stage.HOLD, id="else what the stage's plan says"),
        pytest.param(Stage.HOLD, None, Stage.HANG, id="else hang"),
    ],
)
def test_after_a_timed_stage_comes(stage: Stage, then: Stage | None, follows: Stage) -> None:
    plan = in_stage(stage, for_s=60, then=then)
    assert ended(plan, uptime_s=159.9) is None
    outcome = ended(plan, uptime_s=160.0)
    assert outcome is not None
    after, before = outcome
    assert (before, after.stage) == (stage, follows)
    assert after.humidity == plan_of(PLAN, follows).humidity


def test_a_stage_without_an_end_never_ends() -> None:
    assert ended(in_stage(Stage.REST, for_s=None), uptime_s=1e12) is None
    assert ended(PLAN, uptime_s=1e12) is None


def test_what_follows_lasts_as_its_plan_says_for_the_same_batch() -> None:
    outcome = ended(in_stage(Stage.CASING_DRY, for_s=60), uptime_s=500.0)
    assert outcome is not None
    run = outcome[0].stage_run
    assert run is not None
    # Began at 100 s, ended at 160 s; seen late, at 500 s, which takes nothing from the rest.
    assert (run.since_uptime_s, run.ends_uptime_s) == (160.0, 160.0 + 7200)
    assert (run.then, run.by, run.batch) == (Stage.HOLD, "keeper", 3)


@given(
    lasts_s=st.lists(st.floats(1.0, 5000.0), min_size=1, max_size=4),
    look_every_s=st.floats(0.5, 20_000.0),
)
def test_however_rarely_somebody_looks_every_chain_comes_to_the_same_end(
    lasts_s: list[float], look_every_s: float
) -> None:
    """The closed form: the last stage of a chain begins when the sum of the others is over."""
    chain = [Stage.CASING_DRY, Stage.REST, Stage.HOLD, Stage.EMPTY][: len(lasts_s)]
    follows = [*chain[1:], Stage.HANG]
    plan = replace(
        PLAN,
        stages={
            stage: StagePlan(humidity=HUMIDITY, temperature=None, for_s=for_s, then=then)
            for stage, for_s, then in zip(chain, lasts_s, follows, strict=True)
        },
    )
    first = begun(
        plan, chain[0], for_s=lasts_s[0], then=follows[0], by="", batch=None, uptime_s=0.0
    )
    assert isinstance(first, RoomPlan)
    plan, now_s, passed = first, 0.0, []
    while plan.stage is not Stage.HANG:
        now_s += look_every_s
        while (outcome := ended(plan, uptime_s=now_s)) is not None:
            plan, before = outcome
            passed.append(before)
    assert passed == chain
    assert plan.stage_run is not None
    assert plan.stage_run.since_uptime_s == pytest.approx(sum(lasts_s))
    assert now_s - sum(lasts_s) <= look_every_s + 1e-6


def test_another_plan_for_the_stage_under_way_holds_at_once_and_for_another_later() -> None:
    plan = in_stage(Stage.REST, for_s=60)
    moister = replace(MOIST, setpoint_pct=87)
    now = with_plan_of(plan, Stage.REST, StagePlan(humidity=moister, temperature=None))
    assert (now.humidity, now.stage_run) == (moister, plan.stage_run)
    later = with_plan_of(plan, Stage.HANG, StagePlan(humidity=moister, temperature=None))
    assert later.humidity == MOIST
    assert plan_of(later, Stage.HANG).humidity == moister


# A cooled room's doses go by the mean over its compressor's cycle.
UNCOOLED = replace(
    PLAN,
    relays={k: rules for k, rules in PLAN.relays.items() if k is not RelayKind.COOLING},
)


def closed_in(
    stage: Stage, humidity_pct: float, ticks: int = 1, *, plan: RoomPlan = PLAN
) -> set[RelayKind]:
    """The relays that are closed at the last of some ticks, ten seconds apart, in this air."""
    plan = replace(plan, stage=stage)
    state = starting_state(plan, uptime_s=0.0)
    closed: set[RelayKind] = set()
    for tick in range(ticks):
        uptime_s = 400.0 + 10.0 * tick  # between two stirs
        reading = AirReading(
            taken_at=datetime(2026, 11, 1, tzinfo=UTC) + timedelta(seconds=uptime_s),
            taken_uptime_s=uptime_s,
            temperature_c=13.0,
            humidity_pct=humidity_pct,
        )
        decision = decide(state, plan, {"rail": reading}, uptime_s=uptime_s)
        state = decision.state
        closed = {command.relay for command in decision.commands if command.closed}
    return closed


def test_while_casings_dry_both_fans_run_and_no_water_is_added() -> None:
    fans = {RelayKind.EXHAUST_FAN, RelayKind.CIRCULATION_FAN}
    for humidity_pct in (60.0, 75.0, 85.0):
        assert closed_in(Stage.CASING_DRY, humidity_pct) == fans


def test_a_rest_adds_water_and_blows_nothing_out() -> None:
    assert closed_in(Stage.REST, 60.0, plan=UNCOOLED) == {RelayKind.HUMIDIFIER}
    assert closed_in(Stage.REST, 90.0, plan=UNCOOLED) == set()
    assert closed_in(Stage.HANG, 90.0, plan=UNCOOLED) == {RelayKind.EXHAUST_FAN}


def test_an_empty_room_is_left_alone() -> None:
    for humidity_pct in (52.0, 75.0, 91.0):
        assert closed_in(Stage.EMPTY, humidity_pct) == set()


def test_a_fan_that_airs_all_the_time_takes_its_rests_and_is_not_locked_out() -> None:
    rules = RelayRules(min_on_s=0, min_off_s=30, max_run_s=100.0)
    plan = replace(PLAN, stage=Stage.CASING_DRY, relays={RelayKind.EXHAUST_FAN: rules})
    state = starting_state(plan, uptime_s=0.0)
    codes, on_s = set(), 0.0
    for tick in range(360):
        uptime_s = 400.0 + 10.0 * tick
        reading = AirReading(
            taken_at=datetime(2026, 11, 1, tzinfo=UTC) + timedelta(seconds=uptime_s),
            taken_uptime_s=uptime_s,
            temperature_c=13.0,
            humidity_pct=75.0,
        )
        decision = decide(state, plan, {"rail": reading}, uptime_s=uptime_s)
        state = decision.state
        codes.add(decision.commands[0].because.code)
        on_s += 10.0 * decision.commands[0].closed
    assert codes == {"airing-stage", "long-run", "resting"}
    # 100 s on, 30 s off: ten of every thirteen ticks.
    assert on_s == pytest.approx(3600 * 10 / 13, abs=30)
