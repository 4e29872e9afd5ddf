"""One room through whole decisions: stages, temperature, circulation, interlocks in turn."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from hangroom.control.blind import Sight
from hangroom.control.memory import RoomState, starting_state
from hangroom.control.room import decide
from hangroom.control.use import RelayMemory
from hangroom.terms import (
    AirReading,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

NOW_S = 90_000.0  # a whole number of stirring cycles, and long after everything has rested
HUMIDITY = HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92)
TEMPERATURE = TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30)
FREE = RelayRules(min_on_s=0, min_off_s=0)
TOO_DRY_PCT, TOO_HUMID_PCT, FINE_PCT = 70.0, 79.0, 75.0


def plan_of(
    *kinds: RelayKind,
    stage: Stage = Stage.HANG,
    humidity: HumidityTarget | None = HUMIDITY,
    temperature: TemperatureTarget | None = TEMPERATURE,
) -> RoomPlan:
    return RoomPlan(
        name="closet",
        stage=stage,
        humidity=humidity,
        temperature=temperature,
        relays=dict.fromkeys(kinds or RelayKind, FREE),
    )


def long_running(plan: RoomPlan, closed: Iterable[RelayKind] = ()) -> RoomState:
    return going_on(
        plan,
        {kind: RelayMemory(closed=kind in closed, changed_uptime_s=0.0) for kind in plan.relays},
    )


def going_on(plan: RoomPlan, relays: Mapping[RelayKind, RelayMemory]) -> RoomState:
    return replace(
        starting_state(plan, uptime_s=0.0),
        relays=relays,
        trusted_once=True,
        sight=Sight(known=True, since_uptime_s=0.0),
    )


def air(
    humidity_pct: float = FINE_PCT, temperature_c: float = 13.0, *, at_s: float = NOW_S
) -> AirReading:
    return AirReading(
        taken_at=datetime(2026, 11, 1, tzinfo=UTC),
        taken_uptime_s=at_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def decided(
    plan: RoomPlan,
    reading: AirReading | None,
    *,
    closed: Iterable[RelayKind] = (),
    uptime_s: float = NOW_S,
) -> Mapping[RelayKind, tuple[bool, str]]:
    decision = decide(long_running(plan, closed), plan, {"rail": reading}, uptime_s=uptime_s)
    return {c.relay: (c.closed, c.because.code) for c in decision.commands}


@pytest.mark.parametrize(
    ("stage", "humidity_pct", "humidifier", "exhaust"),
    [
        (Stage.HANG, TOO_DRY_PCT, (True, "too-dry"), (False, "dry-enough")),
        (Stage.HANG, FINE_PCT, (False, "moist-enough"), (False, "dry-enough")),
        (Stage.HANG, TOO_HUMID_PCT, (False, "moist-enough"), (True, "too-humid")),
        (Stage.HOLD, TOO_DRY_PCT, (True, "too-dry"), (False, "dry-enough")),
        (Stage.HOLD, TOO_HUMID_PCT, (False, "moist-enough"), (True, "too-humid")),
        (Stage.REST, TOO_DRY_PCT, (True, "too-dry"), (False, "stage-forbids")),
        (Stage.REST, TOO_HUMID_PCT, (False, "moist-enough"), (False, "stage-forbids")),
        (Stage.CASING_DRY, TOO_DRY_PCT, (False, "stage-forbids"), (True, "airing-stage")),
        (Stage.CASING_DRY, FINE_PCT, (False, "stage-forbids"), (True, "airing-stage")),
        (Stage.CASING_DRY, 49.0, (False, "stage-forbids"), (False, "humidity-low-limit")),
        (Stage.EMPTY, TOO_DRY_PCT, (False, "stage-forbids"), (False, "stage-forbids")),
        (Stage.EMPTY, TOO_HUMID_PCT, (False, "stage-forbids"), (False, "stage-forbids")),
    ],
)
def test_a_stage_decides_what_a_room_may_use(
    stage: Stage,
    humidity_pct: float,
    humidifier: tuple[bool, str],
    exhaust: tuple[bool, str],
) -> None:
    seen = decided(
        plan_of(RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN, stage=stage), air(humidity_pct)
    )
    assert seen[RelayKind.HUMIDIFIER] == humidifier
    assert seen[RelayKind.EXHAUST_FAN] == exhaust


def test_nothing_runs_in_an_empty_room() -> None:
    seen = decided(plan_of(stage=Stage.EMPTY), air(TOO_DRY_PCT, 25.0), closed=RelayKind)
    assert set(seen.values()) == {(False, "stage-forbids")}


@pytest.mark.parametrize("closed", [False, True])
def test_a_relay_without_a_target_stays_open(closed: bool) -> None:
    plan = plan_of(humidity=None, temperature=None)
    kinds = set(RelayKind) - {RelayKind.CIRCULATION_FAN}
    seen = decided(plan, air(TOO_DRY_PCT, 25.0), closed=kinds if closed else ())
    assert {seen[kind] for kind in kinds} == {(False, "no-target")}


COOLING, HEATER = RelayKind.COOLING, RelayKind.HEATER


@pytest.mark.parametrize(
    ("kinds", "running", "temperature_c", "outcome"),
    [
        pytest.param([COOLING], [], 13.9, {COOLING: "cool-enough"}, id="open inside the band"),
        pytest.param([COOLING], [], 14.0, {COOLING: "TOO-WARM"}, id="starts at the upper edge"),
        pytest.param([COOLING], [COOLING], 12.1, {COOLING: "STILL-COOLING"}, id="cools on"),
        pytest.param([COOLING], [COOLING], 12.0, {COOLING: "cool-enough"}, id="to the lower edge"),
        pytest.param([COOLING], [COOLING], -2.0, {COOLING: "cold-hard-limit"}, id="hard limit"),
        pytest.param(
            [HEATER], [], 12.1, {HEATER: "warm-enough"}, id="heater: open inside the band"
        ),
        pytest.param(
            [HEATER], [], 12.0, {HEATER: "TOO-COLD"}, id="heater: starts at the lower edge"
        ),
        pytest.param([HEATER], [HEATER], 13.9, {HEATER: "STILL-HEATING"}, id="heater: heats on"),
        pytest.param(
            [HEATER], [HEATER], 14.0, {HEATER: "warm-enough"}, id="heater: to the upper edge"
        ),
        pytest.param(
            [HEATER], [HEATER], 30.0, {HEATER: "heat-hard-limit"}, id="heater: hard limit"
        ),
        pytest.param(
            [COOLING, HEATER],
            [COOLING],
            13.0,
            {COOLING: "cool-enough", HEATER: "warm-enough"},
            id="with a heater, cooling stops at the setpoint",
        ),
        pytest.param(
            [COOLING, HEATER],
            [HEATER],
            13.0,
            {COOLING: "cool-enough", HEATER: "warm-enough"},
            id="with cooling, the heater stops at the setpoint",
        ),
        pytest.param(
            [COOLING, HEATER],
            [COOLING],
            13.1,
            {COOLING: "STILL-COOLING", HEATER: "warm-enough"},
            id="and not before",
        ),
    ],
)
def test_cooling_and_heating_work_between_their_edges(
    kinds: list[RelayKind],
    running: list[RelayKind],
    temperature_c: float,
    outcome: dict[RelayKind, str],
) -> None:
    # In capitals: closed.
    seen = decided(plan_of(*kinds), air(temperature_c=temperature_c), closed=running)
    assert {
        kind: code.upper() if closed else code for kind, (closed, code) in seen.items()
    } == outcome


@pytest.mark.parametrize(
    ("into_cycle_s", "outcome"),
    [(0.0, (True, 300.0)), (299.0, (True, 1.0)), (300.0, (False, 1500.0)), (1799.0, (False, 1.0))],
)
def test_circulation_stirs_for_its_share_of_every_cycle(
    into_cycle_s: float, outcome: tuple[bool, float]
) -> None:
    plan, uptime_s = plan_of(RelayKind.CIRCULATION_FAN), NOW_S + into_cycle_s
    decision = decide(long_running(plan), plan, {"rail": air(at_s=uptime_s)}, uptime_s=uptime_s)
    command = decision.commands[0]
    assert (command.closed, command.because.figures["left_s"]) == outcome


def test_circulation_goes_on_while_the_sensor_is_lost_but_not_before_it_was_ever_trusted() -> None:
    plan = plan_of(RelayKind.CIRCULATION_FAN)
    stale = air(at_s=NOW_S - 31)
    assert decided(plan, stale) == {RelayKind.CIRCULATION_FAN: (True, "circulating")}
    fresh_start = starting_state(plan, uptime_s=0.0)
    for reading in (None, stale, air(99.9)):
        command = decide(fresh_start, plan, {"rail": reading}, uptime_s=NOW_S).commands[0]
        assert (command.closed, command.because.code) == (False, "started")


@pytest.mark.parametrize("stage", [Stage.HANG, Stage.CASING_DRY])
def test_the_exhaust_fan_stops_when_the_sensor_is_lost(stage: Stage) -> None:
    kind = RelayKind.EXHAUST_FAN
    seen = decided(plan_of(kind, stage=stage), air(at_s=NOW_S - 31), closed=[kind])
    assert seen == {kind: (False, "stale-reading")}


def test_whichever_of_a_pair_runs_is_let_finish_its_minimum() -> None:
    rules = RelayRules(min_on_s=60, min_off_s=0)
    plan = RoomPlan(
        name="closet",
        stage=Stage.HANG,
        humidity=HUMIDITY,
        temperature=None,
        relays=dict.fromkeys((RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN), rules),
    )
    running = RelayMemory(closed=True, changed_uptime_s=NOW_S - 30)
    resting = RelayMemory(closed=False, changed_uptime_s=0.0)
    for runs, waits, humidity_pct, code in (
        (RelayKind.EXHAUST_FAN, RelayKind.HUMIDIFIER, TOO_DRY_PCT, "waits-for-airing"),
        (RelayKind.HUMIDIFIER, RelayKind.EXHAUST_FAN, TOO_HUMID_PCT, "waits-for-humidifier"),
    ):
        state = going_on(plan, {runs: running, waits: resting})
        commands = decide(state, plan, {"rail": air(humidity_pct)}, uptime_s=NOW_S).commands
        told = {c.relay: (c.closed, c.because.code) for c in commands}
        assert told[runs][0]
        assert told[waits] == (False, code)


def test_a_start_counts_every_rest_from_the_start() -> None:
    # A compressor that ran until the power cut must not be started against its pressure.
    plan = RoomPlan(
        name="fridge",
        stage=Stage.HANG,
        humidity=None,
        temperature=TEMPERATURE,
        relays={COOLING: RelayRules(min_on_s=180, min_off_s=300)},
    )
    state = starting_state(plan, uptime_s=NOW_S)
    for after_s, outcome in ((299.0, (False, "resting")), (300.0, (True, "too-warm"))):
        warm = air(temperature_c=20.0, at_s=NOW_S + after_s)
        command = decide(state, plan, {"rail": warm}, uptime_s=NOW_S + after_s).commands[0]
        assert (command.closed, command.because.code) == outcome


@pytest.mark.parametrize(
    ("kind", "humidity_pct", "outcome"),
    [
        (RelayKind.HUMIDIFIER, 91.9, (True, "humidifying")),
        (RelayKind.HUMIDIFIER, 92.0, (False, "humidity-hard-limit")),
        (RelayKind.HUMIDIFIER, 95.0, (False, "humidity-hard-limit")),
        (RelayKind.EXHAUST_FAN, 50.1, (True, "airing")),
        (RelayKind.EXHAUST_FAN, 50.0, (False, "humidity-low-limit")),
    ],
)
def test_a_hard_limit_ends_a_dose_at_once_and_at_the_very_limit(
    kind: RelayKind, humidity_pct: float, outcome: tuple[bool, str]
) -> None:
    plan = RoomPlan(
        name="closet",
        stage=Stage.HANG,
        humidity=HUMIDITY,
        temperature=None,
        relays={kind: RelayRules(min_on_s=60, min_off_s=0)},
    )
    state = going_on(plan, {kind: RelayMemory(closed=True, changed_uptime_s=NOW_S - 1)})
    command = decide(state, plan, {"rail": air(humidity_pct)}, uptime_s=NOW_S).commands[0]
    assert (command.closed, command.because.code) == outcome
