"""A room with cooling: the mean is held, limits go by the moment, and reheating dries.

Reheating is a proportional-integral rule on a constant error of e %: its n-th cycle runs for
CYCLE_S (n MORE_PER_PCT + AT_ONCE_PER_PCT) e, up to the whole cycle.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hangroom.control.cycle_drying import AT_ONCE_PER_PCT, MORE_PER_PCT, Drying
from hangroom.control.cycle_mean import CYCLE_S, MINUTES, CycleMean
from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import decide
from hangroom.control.use import RelayMemory
from hangroom.terms import (
    AirReading,
    Command,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

NOW_S = 90_000.0
COOLING, HEATER = RelayKind.COOLING, RelayKind.HEATER
HUMIDIFIER, FAN = RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN
HUMIDITY = HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92)
TEMPERATURE = TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30)


def plan_of(*kinds: RelayKind, reheats: bool = False, min_on_s: float = 0.0) -> RoomPlan:
    return RoomPlan(
        name="fridge",
        stage=Stage.HANG,
        humidity=HUMIDITY,
        temperature=TEMPERATURE,
        relays=dict.fromkeys((COOLING, *kinds), RelayRules(min_on_s=min_on_s, min_off_s=0)),
        reheats=reheats,
    )


def state_of(plan: RoomPlan, *closed: RelayKind, mean_pct: float | None) -> RoomState:
    """Return a long running state with that mean over the cycle, None for not known yet."""
    relays = {
        kind: RelayMemory(closed=kind in closed, changed_uptime_s=NOW_S - 10)
        for kind in plan.relays
    }
    mean = CycleMean(
        humidity_pct=mean_pct,
        minutes_pct=() if mean_pct is None else (mean_pct,) * MINUTES,
        began_uptime_s=NOW_S - 10,
        looked_uptime_s=NOW_S - 2,
    )
    blank = starting_state(plan, uptime_s=0.0)
    return replace(blank, relays=relays, trusted_once=True, mean=mean)


def reading(humidity_pct: float, temperature_c: float, at_s: float = NOW_S) -> AirReading:
    return AirReading(
        taken_at=datetime(2026, 11, 1, tzinfo=UTC),
        taken_uptime_s=at_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def commands(
    plan: RoomPlan, state: RoomState, seen_pct: float, seen_c: float = 13.0
) -> Mapping[RelayKind, Command]:
    decision = decide(state, plan, {"rail": reading(seen_pct, seen_c)}, uptime_s=NOW_S)
    return {command.relay: command for command in decision.commands}


def told(
    plan: RoomPlan, state: RoomState, seen_pct: float, seen_c: float = 13.0
) -> Mapping[RelayKind, tuple[bool, str]]:
    found = commands(plan, state, seen_pct, seen_c)
    return {kind: (command.closed, command.because.code) for kind, command in found.items()}


@pytest.mark.parametrize(
    ("mean_pct", "seen_pct", "outcome"),
    [
        pytest.param(75.0, 60.0, (False, "moist-enough"), id="dry for a moment only"),
        pytest.param(71.0, 80.0, (True, "too-dry"), id="dry over the cycle"),
        pytest.param(None, 60.0, (False, "averaging"), id="not known yet"),
        pytest.param(71.0, 91.9, (True, "too-dry"), id="moist for a moment"),
        pytest.param(71.0, 92.0, (False, "humidity-hard-limit"), id="at the limit now"),
        pytest.param(None, 92.0, (False, "humidity-hard-limit"), id="a limit needs no mean"),
    ],
)
def test_a_humidifier_goes_by_the_mean_but_its_limit_by_the_moment(
    mean_pct: float | None, seen_pct: float, outcome: tuple[bool, str]
) -> None:
    plan = plan_of(HUMIDIFIER)
    assert told(plan, state_of(plan, mean_pct=mean_pct), seen_pct)[HUMIDIFIER] == outcome


@pytest.mark.parametrize(
    ("dries", "reheats", "dries_code"), [(HEATER, True, "reheating"), (FAN, False, "venting")]
)
@pytest.mark.parametrize(
    ("mean_pct", "seen_pct", "outcome"),
    [
        pytest.param(80.0, 60.0, "dries", id="too humid over the cycle"),
        pytest.param(75.0, 90.0, "dried-this-cycle", id="humid for a moment only"),
        pytest.param(70.0, 90.0, "dried-this-cycle", id="dry over the cycle"),
        pytest.param(None, 90.0, "averaging", id="not known yet"),
        pytest.param(80.0, 50.1, "dries", id="just above the limit now"),
        pytest.param(80.0, 50.0, "humidity-low-limit", id="at the limit now"),
        pytest.param(None, 50.0, "humidity-low-limit", id="a limit needs no mean"),
    ],
)
def test_what_dries_goes_by_the_mean_but_its_limit_by_the_moment(
    *,
    dries: RelayKind,
    reheats: bool,
    dries_code: str,
    mean_pct: float | None,
    seen_pct: float,
    outcome: str,
) -> None:
    plan = plan_of(dries, reheats=reheats)
    wanted = (True, dries_code) if outcome == "dries" else (False, outcome)
    assert told(plan, state_of(plan, mean_pct=mean_pct), seen_pct)[dries] == wanted


def test_the_low_limit_breaks_a_minimum_run_of_what_dries() -> None:
    for dries, reheats in ((HEATER, True), (FAN, False)):
        plan = plan_of(dries, reheats=reheats, min_on_s=60.0)
        state = state_of(plan, dries, mean_pct=80.0)
        assert told(plan, state, 50.0)[dries] == (False, "humidity-low-limit")


def test_a_reheating_heater_runs_with_cooling() -> None:
    plan = plan_of(HEATER, reheats=True)
    for closed in ((), (COOLING,), (HEATER,), (COOLING, HEATER)):
        seen = told(plan, state_of(plan, *closed, mean_pct=80.0), 80.0, 14.5)
        assert seen == {COOLING: (True, "too-warm"), HEATER: (True, "reheating")}


def test_a_heater_that_reheats_never_heats_for_warmth() -> None:
    plan = plan_of(HEATER, reheats=True)
    assert told(plan, state_of(plan, mean_pct=70.0), 70.0, 5.0)[HEATER] == (
        False,
        "dried-this-cycle",
    )


def test_a_heater_that_does_not_reheat_never_heats_for_humidity() -> None:
    plan = plan_of(HEATER)
    assert told(plan, state_of(plan, mean_pct=88.0), 88.0, 13.0)[HEATER] == (False, "warm-enough")


def test_where_a_heater_reheats_the_exhaust_fan_rests() -> None:
    plan = plan_of(HEATER, FAN, reheats=True)
    seen = told(plan, state_of(plan, mean_pct=85.0), 85.0)
    assert seen[FAN] == (False, "reheating-dries")
    assert seen[HEATER] == (True, "reheating")


@pytest.mark.parametrize(
    ("seen_c", "seen_pct", "mean_pct", "outcome"),
    [
        pytest.param(14.9, 80.0, 80.0, (True, "reheating"), id="warm, but cooling can"),
        pytest.param(15.0, 80.0, 80.0, (False, "too-warm-to-reheat"), id="too warm to reheat"),
        pytest.param(30.0, 80.0, 80.0, (False, "heat-hard-limit"), id="the high limit"),
        pytest.param(30.0, 50.0, 80.0, (False, "heat-hard-limit"), id="before the low humidity"),
        pytest.param(30.0, 80.0, None, (False, "heat-hard-limit"), id="and before the mean"),
    ],
)
def test_the_high_temperature_limit_goes_first(
    seen_c: float, seen_pct: float, mean_pct: float | None, outcome: tuple[bool, str]
) -> None:
    plan = plan_of(HEATER, reheats=True)
    assert told(plan, state_of(plan, mean_pct=mean_pct), seen_pct, seen_c)[HEATER] == outcome


def test_the_high_temperature_limit_breaks_a_minimum_run_and_being_too_warm_does_not() -> None:
    plan = plan_of(HEATER, reheats=True, min_on_s=60.0)
    state = state_of(plan, HEATER, mean_pct=80.0)
    assert told(plan, state, 80.0, 30.0)[HEATER] == (False, "heat-hard-limit")
    assert told(plan, state, 80.0, 20.0)[HEATER] == (True, "minimum-run")


@pytest.mark.parametrize(
    ("dries", "reheats"), [(HEATER, True), (FAN, False)], ids=["reheating", "venting"]
)
@pytest.mark.parametrize("too_much_pct", [1.1, 5.0, 16.0])
def test_the_share_of_a_cycle_follows_the_closed_form(
    dries: RelayKind, reheats: bool, too_much_pct: float
) -> None:
    plan, humidity_pct = plan_of(dries, reheats=reheats), 75.0 + too_much_pct
    state = state_of(plan, mean_pct=humidity_pct)
    step_s, cycles = 10.0, 4
    ran_s = [0.0] * cycles
    for number in range(round(cycles * CYCLE_S / step_s)):
        at_s = NOW_S + number * step_s
        # A sensor's noise, for it not to look stuck; the mean of a minute is free of it.
        seen_pct = humidity_pct + (0.1 if number % 2 else -0.1)
        decision = decide(state, plan, {"rail": reading(seen_pct, 13.0, at_s)}, uptime_s=at_s)
        state = decision.state
        closed = next(c.closed for c in decision.commands if c.relay is dries)
        ran_s[int(number * step_s // CYCLE_S)] += step_s * closed
    wanted_s = []
    for n in range(1, cycles + 1):
        share_s = CYCLE_S * min(1.0, (n * MORE_PER_PCT + AT_ONCE_PER_PCT) * too_much_pct)
        # Runs and pauses of less than a minute are left out.
        lasts_s = 0.0 if share_s < 60.0 else CYCLE_S if share_s > CYCLE_S - 60.0 else share_s
        wanted_s.append(lasts_s)
    assert ran_s == pytest.approx(wanted_s, abs=2 * step_s)


@given(
    steps=st.lists(
        st.tuples(st.floats(-5.0, 35.0), st.floats(40.0, 95.0), st.sampled_from([2.0, 20.0, 90.0])),
        max_size=30,
    ),
    min_on_s=st.sampled_from([0.0, 60.0, 180.0]),
    mean_pct=st.none() | st.floats(60.0, 95.0),
    running=st.sampled_from([(), (COOLING,), (HEATER,)]),
)
def test_where_nothing_reheats_cooling_and_heater_are_never_closed_together(
    steps: list[tuple[float, float, float]],
    min_on_s: float,
    mean_pct: float | None,
    running: tuple[RelayKind, ...],
) -> None:
    plan = plan_of(HEATER, min_on_s=min_on_s)
    state, at_s = state_of(plan, *running, mean_pct=mean_pct), NOW_S
    for seen_c, seen_pct, after_s in steps:
        # Two sensors that agree, for a jump in one alone is doubted.
        seen = reading(seen_pct, seen_c, at_s)
        decision = decide(state, plan, {"rail": seen, "shelf": seen}, uptime_s=at_s)
        state = decision.state
        assert {c.closed for c in decision.commands} != {True}
        at_s += after_s


@pytest.mark.parametrize(
    ("runs", "waits", "seen_c", "code"),
    [(COOLING, HEATER, 12.0, "waits-for-cooling"), (HEATER, COOLING, 14.0, "waits-for-heater")],
)
def test_where_nothing_reheats_each_waits_for_the_other_s_minimum(
    runs: RelayKind, waits: RelayKind, seen_c: float, code: str
) -> None:
    plan = plan_of(HEATER, min_on_s=60.0)
    seen = told(plan, state_of(plan, runs, mean_pct=75.0), 75.0, seen_c)
    assert seen == {runs: (True, "minimum-run"), waits: (False, code)}


def test_a_new_cycle_is_reckoned_only_when_the_last_is_over() -> None:
    plan = plan_of(HEATER, reheats=True)
    state = state_of(plan, mean_pct=80.0)
    for into_s, outcome in (
        (99.0, (True, "reheating")),
        (100.0, (False, "dried-this-cycle")),
        (CYCLE_S - 1, (False, "dried-this-cycle")),
        (CYCLE_S, (True, "reheating")),
    ):
        going = {HEATER: Drying(share_ratio=0.0, began_uptime_s=NOW_S - into_s, on_s=100.0)}
        assert told(plan, replace(state, drying=going), 80.0)[HEATER] == outcome
