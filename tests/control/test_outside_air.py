"""The air outside: vapour against libraries and a published equation, and the gate on airing."""

from datetime import UTC, datetime
from math import exp, log, tanh

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from hangroom import air as moist_air
from hangroom.control.cycle_mean import CYCLE_S, MINUTES, CycleMean
from hangroom.control.memory import RoomState, starting_state
from hangroom.control.outside import ADVANTAGE_G_PER_M3, gated, vapour_g_per_m3
from hangroom.control.room import decide
from hangroom.control.sensors.voting import Air, voted
from hangroom.control.use import RelayMemory
from hangroom.control.wish import off, on
from hangroom.terms import (
    AirOutside,
    AirReading,
    Because,
    Command,
    HumidityTarget,
    RelayKind,
    RelayRules,
    RoomPlan,
    Stage,
    TemperatureTarget,
)

GAS_CONSTANT_J_PER_KG_K = 8.314462618 / 0.01801528  # CODATA 2018, and the molar mass of water
AIRING = on("too-humid")
NOW_S = 90_000.0
FAN, COOLING = RelayKind.EXHAUST_FAN, RelayKind.COOLING


def reading(humidity_pct: float, temperature_c: float = 13.0, *, at_s: float = NOW_S) -> AirReading:
    return AirReading(
        taken_at=datetime(2026, 11, 1, tzinfo=UTC),
        taken_uptime_s=at_s,
        temperature_c=temperature_c,
        humidity_pct=humidity_pct,
    )


def inside(humidity_pct: float, temperature_c: float = 13.0) -> Air:
    return voted([reading(humidity_pct, temperature_c)])


def outside_with(vapour: float, temperature_c: float = 8.0) -> AirOutside:
    """Return air with so many grams of vapour in a cubic metre, by a library of its own."""
    whole = moist_air.vapour_density_g_per_m3(temperature_c, 100.0)
    return AirOutside(temperature_c=temperature_c, humidity_pct=100.0 * vapour / whole)


def saturation_over_water_pa(temperature_c: float) -> float:
    """Murphy & Koop 2005, Q. J. R. Meteorol. Soc. 131:1539-1565, eq. 10, 123 to 332 K."""
    kelvin = temperature_c + 273.15
    return exp(
        54.842763
        - 6763.22 / kelvin
        - 4.210 * log(kelvin)
        + 0.000367 * kelvin
        + tanh(0.0415 * (kelvin - 218.8))
        * (53.878 - 1331.22 / kelvin - 9.44523 * log(kelvin) + 0.014025 * kelvin)
    )


@given(temperature_c=st.floats(0.02, 45.0), humidity_pct=st.floats(5.0, 100.0))
def test_vapour_agrees_with_steam_tables_and_with_the_handbook(
    temperature_c: float, humidity_pct: float
) -> None:
    kelvin = temperature_c + 273.15
    # CoolProp's water is IAPWS-95.
    pressure_pa = humidity_pct / 100.0 * PropsSI("P", "T", kelvin, "Q", 1, "Water")
    found = vapour_g_per_m3(AirOutside(temperature_c=temperature_c, humidity_pct=humidity_pct))
    steam = 1000.0 * pressure_pa / (GAS_CONSTANT_J_PER_KG_K * kelvin)
    assert found == pytest.approx(steam, rel=0.005)
    handbook = moist_air.vapour_density_g_per_m3(temperature_c, humidity_pct)
    assert found == pytest.approx(handbook, rel=0.005)


@given(temperature_c=st.floats(-10.0, 45.0), humidity_pct=st.floats(5.0, 100.0))
def test_vapour_agrees_over_water_below_freezing_too(
    temperature_c: float, humidity_pct: float
) -> None:
    pressure_pa = humidity_pct / 100.0 * saturation_over_water_pa(temperature_c)
    wanted = 1000.0 * pressure_pa / (GAS_CONSTANT_J_PER_KG_K * (temperature_c + 273.15))
    found = vapour_g_per_m3(AirOutside(temperature_c=temperature_c, humidity_pct=humidity_pct))
    assert found == pytest.approx(wanted, rel=0.005)


def test_the_equation_of_that_check_gives_the_triple_point() -> None:
    # 611.657 Pa at 0.01 degC: Guildner, Johnson & Jones 1976, J. Res. NBS 80A:505-521.
    assert saturation_over_water_pa(0.01) == pytest.approx(611.657, rel=1e-4)


def test_cold_air_at_95_pct_dries_a_room_and_warm_air_at_60_pct_wets_it() -> None:
    cold = AirOutside(temperature_c=2.0, humidity_pct=95.0)
    warm = AirOutside(temperature_c=24.0, humidity_pct=60.0)
    assert gated(AIRING, inside(79.0), cold) == AIRING
    assert gated(AIRING, inside(79.0), warm).because.code == "outside-too-moist"


@pytest.mark.parametrize("temperature_c", [13.0, 20.0, 30.0])
@pytest.mark.parametrize(
    ("advantage_g_per_m3", "airs"), [(-2.0, False), (0.2, False), (0.4, True), (5.0, True)]
)
def test_the_fan_airs_only_where_the_air_outside_has_a_third_of_a_gram_less(
    temperature_c: float, advantage_g_per_m3: float, airs: bool
) -> None:
    # Steps of 0.1 g around 0.3 leave room for 0.5 % of some 9 g on either side.
    assert ADVANTAGE_G_PER_M3 == 0.3
    room = inside(79.0)
    outside_g_per_m3 = moist_air.vapour_density_g_per_m3(13.0, 79.0) - advantage_g_per_m3
    wish = gated(AIRING, room, outside_with(outside_g_per_m3, temperature_c))
    assert wish.closed is airs


def test_the_reason_tells_the_vapour_on_either_side() -> None:
    wish = gated(AIRING, inside(79.0), AirOutside(temperature_c=20.0, humidity_pct=70.0))
    assert not wish.closed
    assert not wish.safety
    assert wish.because.code == "outside-too-moist"
    assert wish.because.figures == {
        "inside_g_per_m3": pytest.approx(moist_air.vapour_density_g_per_m3(13.0, 79.0), rel=0.005),
        "outside_g_per_m3": pytest.approx(moist_air.vapour_density_g_per_m3(20.0, 70.0), rel=0.005),
    }


def test_where_the_air_on_one_side_is_not_known_the_wish_stands() -> None:
    wet = AirOutside(temperature_c=30.0, humidity_pct=90.0)
    assert gated(AIRING, inside(79.0), None) is AIRING
    assert gated(AIRING, Because("no-reading"), wet) is AIRING


def test_an_off_keeps_its_own_reason() -> None:
    wish = off("dry-enough")
    assert gated(wish, inside(60.0), AirOutside(temperature_c=30.0, humidity_pct=90.0)) is wish


def room_with(*kinds: RelayKind, stage: Stage = Stage.HANG, min_on_s: float = 0.0) -> RoomPlan:
    return RoomPlan(
        name="closet",
        stage=stage,
        humidity=HumidityTarget(setpoint_pct=75, band_pct=3, low_limit_pct=50, high_limit_pct=92),
        temperature=TemperatureTarget(setpoint_c=13, band_c=1, low_limit_c=-2, high_limit_c=30),
        relays=dict.fromkeys(kinds, RelayRules(min_on_s=min_on_s, min_off_s=0)),
    )


def state_of(plan: RoomPlan, *, closed_for_s: float | None, mean: float | None = None) -> RoomState:
    """Return a state whose fan has run for so long, or rests."""
    blank = starting_state(plan, uptime_s=0.0)
    relays = dict(blank.relays)
    if closed_for_s is not None:
        relays[FAN] = RelayMemory(closed=True, changed_uptime_s=NOW_S - closed_for_s)
    over = mean and CycleMean(
        humidity_pct=mean,
        minutes_pct=(mean,) * MINUTES,
        began_uptime_s=NOW_S - 10,
        looked_uptime_s=NOW_S - 2,
    )
    return RoomState(
        relays=relays,
        doses=blank.doses,
        trusted_once=True,
        day=blank.day,
        sight=blank.sight,
        mean=over or None,
    )


def fan_told(
    plan: RoomPlan,
    state: RoomState,
    humidity_pct: float | None,
    outside: AirOutside | None,
) -> Command:
    seen = None if humidity_pct is None else reading(humidity_pct)
    commands = decide(state, plan, {"rail": seen}, uptime_s=NOW_S, outside=outside).commands
    return next(command for command in commands if command.relay is FAN)


DRY = AirOutside(temperature_c=2.0, humidity_pct=80.0)
WET = AirOutside(temperature_c=24.0, humidity_pct=80.0)


@pytest.mark.parametrize("stage", [Stage.HANG, Stage.CASING_DRY])
def test_a_running_dose_stops_once_the_advantage_is_gone(stage: Stage) -> None:
    plan = room_with(FAN, stage=stage)
    state = state_of(plan, closed_for_s=2.0)
    assert fan_told(plan, state, 79.0, DRY).closed
    told = fan_told(plan, state, 79.0, WET)
    assert (told.closed, told.because.code) == (False, "outside-too-moist")


def test_a_dose_does_not_begin_while_the_air_outside_is_too_moist() -> None:
    plan = room_with(FAN)
    state = state_of(plan, closed_for_s=None)
    assert fan_told(plan, state, 79.0, DRY).closed
    told = fan_told(plan, state, 79.0, WET)
    assert (told.closed, told.because.code) == (False, "outside-too-moist")


def test_the_gate_leaves_a_minimum_run_its_time() -> None:
    plan = room_with(FAN, min_on_s=30.0)
    told = fan_told(plan, state_of(plan, closed_for_s=2.0), 79.0, WET)
    assert (told.closed, told.because.code) == (True, "minimum-run")


def test_without_a_sensor_outside_the_estimate_counts_and_without_either_there_is_no_gate() -> None:
    plan = room_with(FAN)
    state = state_of(plan, closed_for_s=None)
    assert fan_told(plan, state, 79.0, None).closed
    estimated = RoomPlan(
        name=plan.name,
        stage=plan.stage,
        humidity=plan.humidity,
        temperature=plan.temperature,
        relays=plan.relays,
        outside_estimate=WET,
    )
    assert fan_told(estimated, state, 79.0, None).because.code == "outside-too-moist"
    assert fan_told(estimated, state, 79.0, DRY).closed


def test_a_room_with_cooling_is_never_gated() -> None:
    """What the fan lets in there warms the room, and the coil takes its water."""
    plan = room_with(FAN, COOLING)
    state = state_of(plan, closed_for_s=None, mean=79.0)
    told = fan_told(plan, state, 79.0, WET)
    assert (told.closed, told.because.code) == (True, "venting")
    assert told.because.figures["left_s"] == pytest.approx(CYCLE_S * 4 * (0.01 + 0.02))
