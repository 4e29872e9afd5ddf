"""The reduced drying model against Crank's cylinder, an independent solver, and what must hold."""

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from hangroom.air import saturation_pressure_fast_pa
from hangroom.product.drying import (
    Air,
    Drying,
    Maths,
    Stick,
    core_water_ratio,
    edges_h,
    hung,
    mean_water_ratio,
    step,
)
from hangroom.product.geometry import Size, shrunk
from hangroom.product.sorption import equilibrium_water_ratio, water_activity

MATHS = Maths(exp=math.exp, larger=max)
USUAL = Stick(
    transfer_kg_per_m2_s_pa=1.2e-8,
    diffusivity_m2_per_s=6.5e-11,
    activation_kj_per_mol=25.0,
    strength=0.072,
    steepness=0.85,
    water_ratio=1.3,
    radius_m=0.0095,
)
FRESH_KG_PER_M3 = 1060.0


def air(temperature_c: float = 12.0, humidity_pct: float = 75.0) -> Air:
    return Air(
        temperature_c=temperature_c,
        saturation_pa=saturation_pressure_fast_pa(temperature_c),
        humidity_ratio=humidity_pct / 100.0,
    )


def dried(stick: Stick, over: Air, hours_h: float, step_h: float = 1.0) -> Drying:
    drying = hung(stick)
    for _ in range(round(hours_h / step_h)):
        drying = step(stick, drying, over, step_h, MATHS)
    return drying


def hours_to(stick: Stick, over: Air, loss_ratio: float, step_h: float = 1.0) -> float:
    """Hours until so much is lost; infinite where it is not within 60 days."""
    drying = hung(stick)
    for from_h, to_h in pairwise(edges_h(1440.0, step_h)):
        after = step(stick, drying, over, to_h - from_h, MATHS)
        if after.loss_ratio >= loss_ratio:
            share = (loss_ratio - drying.loss_ratio) / (after.loss_ratio - drying.loss_ratio)
            return from_h + float(share) * (to_h - from_h)
        drying = after
    return math.inf


# Crank, The Mathematics of Diffusion, 2nd ed. 1975, table 5.2 of roots of b J1(b) = L J0(b).
TABLE_5_2 = [
    (0.01, 0.1412, 3.8343, 7.0170),
    (0.1, 0.4417, 3.8577, 7.0298),
    (0.5, 0.9408, 3.9594, 7.0864),
    (1.0, 1.2558, 4.0795, 7.1558),
    (2.0, 1.5994, 4.2910, 7.2884),
    (5.0, 1.9898, 4.7131, 7.6177),
    (10.0, 2.1795, 5.0332, 7.9569),
    (100.0, 2.3809, 5.4652, 8.5678),
]


def roots(biot: float, count: int = 60) -> list[float]:
    low, high = [0.0, *jn_zeros(1, count - 1)], jn_zeros(0, count)
    return [
        brentq(lambda b: b * j1(b) - biot * j0(b), a + 1e-9, z - 1e-12)
        for a, z in zip(low, high, strict=True)
    ]


def crank(biot: float, fourier: float) -> float:
    """Share lost of a cylinder with surface resistance, eq. 5.49 (number from memory)."""
    return 1.0 - sum(
        4.0 * biot**2 / (b**2 * (b**2 + biot**2)) * math.exp(-(b**2) * fourier) for b in roots(biot)
    )


@pytest.mark.parametrize(("biot", "first", "second", "third"), TABLE_5_2)
def test_the_series_used_here_has_the_published_roots(
    biot: float, first: float, second: float, third: float
) -> None:
    assert roots(biot, 3) == pytest.approx([first, second, third], abs=1e-4)


# The errors that the model states of itself; sticks have a Biot number of 0.2 to 0.4.
@pytest.mark.parametrize(
    ("biot", "within"),
    [(0.2, 0.001), (0.5, 0.004), (1.0, 0.008), (2.0, 0.017), (5.0, 0.030), (10.0, 0.049)],
)
def test_a_cylinder_that_keeps_its_size_loses_as_crank_says(biot: float, within: float) -> None:
    """Constant diffusivity, a straight isotherm, no shrinking: Fo 0.01 to 1."""
    diffusivity, radius, fresh, saturation, slope = 6.5e-11, 0.0095, 1.3, 1400.0, 0.5
    dry_kg_per_m3 = FRESH_KG_PER_M3 / (1.0 + fresh)
    stick = replace(
        USUAL,
        transfer_kg_per_m2_s_pa=biot * dry_kg_per_m3 * diffusivity / (saturation * slope * radius),
        strength=slope,
        volume_per_loss_ratio=0.0,
    )
    over = Air(temperature_c=12.0, saturation_pa=saturation, humidity_ratio=0.4)
    final = 0.4 / slope
    drying, done_h = hung(stick), 0.0
    for fourier in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0):
        until_h = fourier * radius**2 / diffusivity / 3600.0
        while done_h < until_h - 1e-9:
            over_h = min(0.5, until_h - done_h)
            drying = step(
                stick, drying, over, over_h, MATHS, activity=lambda x, a, _r, _e: (a * x, a)
            )
            done_h += over_h
        mean = mean_water_ratio(stick, drying.loss_ratio)
        assert (fresh - mean) / (fresh - final) == pytest.approx(
            crank(biot, fourier), abs=within
        ), fourier


def layer_m(stick: Stick, at: Drying) -> float:
    """Thickness of the layer that the water crosses in one next moment: gradient over flux."""
    over_h = 1e-4
    after = step(stick, at, air(), over_h, MATHS)
    volume_ratio = 1.0 - stick.volume_per_loss_ratio * float(at.loss_ratio)
    around_ratio = math.sqrt(volume_ratio)
    per_loss = 7200.0 * over_h * around_ratio / (FRESH_KG_PER_M3 * stick.radius_m)
    flux = float(after.loss_ratio - at.loss_ratio) / per_loss
    dry_kg_per_m3 = FRESH_KG_PER_M3 / (1.0 + stick.water_ratio) / volume_ratio
    across = float(mean_water_ratio(stick, after.loss_ratio) - after.surface_ratio)
    # As measured on the present stick; the model reckons in radii as hung, times the shrinking.
    return float(across * dry_kg_per_m3 * stick.diffusivity_m2_per_s / flux / around_ratio)


def test_the_layer_is_a_half_spaces_at_first() -> None:
    """Crank eq. 3.13: surface flux of a half-space is D (C0 - Cs) / sqrt(pi D t).

    With E = 4 sqrt(Fo / pi) lost (eq. 5.25 to first order), so that the layer is sqrt(pi Fo) R.
    """
    for fourier in (0.002, 0.005):
        share = 4.0 * math.sqrt(fourier / math.pi)
        at = Drying(loss_ratio=share * 0.6 / 2.3, surface_ratio=0.7)
        rigid = replace(USUAL, volume_per_loss_ratio=0.0)
        expected_m = math.sqrt(math.pi * fourier) * rigid.radius_m
        # 0.01 of a radius is added so that the first step meets some resistance; 16 front^2 of the
        # late layer count already.
        assert layer_m(rigid, at) == pytest.approx(expected_m, abs=0.011 * rigid.radius_m)


@pytest.mark.parametrize("loss_ratio", [0.30, 0.40])
def test_the_layer_is_a_quarter_of_the_radius_at_last(loss_ratio: float) -> None:
    """Glueckauf's linear driving force for a cylinder, 8 D / R2: a flux of 4 D / R per difference.

    With everything lost that this surface asks for, E = 1: R / sqrt(16 + 1 / 0.795^2) = R / 4.19.
    """
    mean = 1.3 - loss_ratio * 2.3
    at = Drying(loss_ratio=loss_ratio, surface_ratio=mean)
    assert layer_m(USUAL, at) / USUAL.radius_m == pytest.approx(1.0 / 4.19, rel=2e-3)


@pytest.mark.parametrize("times", [0.3, 1.0, 2.0])
def test_one_long_step_follows_the_exponential(times: float) -> None:
    """No resistance within, a straight isotherm, no shrinking: 1 - exp(-t / tau), tau known."""
    slope, fresh = 0.5, 1.3
    stick = replace(USUAL, strength=slope, diffusivity_m2_per_s=1.0, volume_per_loss_ratio=0.0)
    over = Air(temperature_c=12.0, saturation_pa=1400.0, humidity_ratio=0.4)
    tau_h = FRESH_KG_PER_M3 * 0.0095 / (7200.0 * 1.2e-8 * 1400.0 * slope * (1.0 + fresh))
    after = step(
        stick,
        hung(stick),
        over,
        times * tau_h,
        MATHS,
        activity=lambda x, a, _r, _e: (a * x, a),
    )
    share = (fresh - mean_water_ratio(stick, after.loss_ratio)) / (fresh - 0.4 / slope)
    assert share == pytest.approx(1.0 - math.exp(-times), abs=0.02)


def test_ways_that_narrow_as_it_dries_slow_it_as_they_say() -> None:
    """Half the water gone: a fading of 0.5 makes the resistance in the meat half again as large."""
    at = Drying(loss_ratio=0.65 / 2.3, surface_ratio=0.65)
    within = replace(USUAL, transfer_kg_per_m2_s_pa=1.0)  # nothing outside
    outside = replace(USUAL, diffusivity_m2_per_s=1.0)  # nothing within

    def pace(stick: Stick) -> float:
        after = step(stick, at, air(humidity_pct=60.0), 1e-4, MATHS)
        return float(after.loss_ratio - at.loss_ratio)

    slowed = pace(replace(within, meat_fading_ratio=0.5)) / pace(within)
    assert slowed == pytest.approx(1.0 / 1.5, rel=1e-3)
    slowed = pace(replace(outside, casing_closing_ratio=0.5)) / pace(outside)
    assert slowed == pytest.approx(1.0 / 1.5, rel=1e-3)


def test_without_resistance_within_it_follows_a_solver_of_its_own() -> None:
    """D a thousandfold: dL/dt = 2 q k ps (aw(X) - H) / (R0 rho0), solved by LSODA, tolerance 1e-9."""
    stick = replace(USUAL, diffusivity_m2_per_s=6.5e-8)
    over = air(13.0, 72.0)

    def slope_per_h(_time_h: float, lost: np.ndarray) -> list[float]:
        around = math.sqrt(1.0 - 1.06 * lost[0])
        activity = math.exp(-0.072 * (1.3 - lost[0] * 2.3) ** -0.85)
        flux = 1.2e-8 * over.saturation_pa * (activity - 0.72)
        return [7200.0 * around * flux / (0.0095 * FRESH_KG_PER_M3)]

    solved = solve_ivp(
        slope_per_h,
        (0.0, 240.0),
        [0.0],
        method="LSODA",
        rtol=1e-9,
        atol=1e-11,
        t_eval=[24, 96, 240],
    )
    ours = [float(dried(stick, over, hours).loss_ratio) for hours in (24, 96, 240)]
    assert ours == pytest.approx(list(solved.y[0]), abs=5e-4)


def test_the_diameter_shrinks_as_the_published_geometry_says() -> None:
    """Loss 0.30: D/D0 0.8258 with the length kept, density 1060, lost water 1 ml per g."""
    assert shrunk(
        Size(diameter_mm=19.0, length_mm=200.0), 0.30, 2.0
    ).diameter_mm / 19.0 == pytest.approx(0.8258, abs=1e-4)
    thin = replace(USUAL, diffusivity_m2_per_s=6.5e-8, volume_per_loss_ratio=1.06)
    rigid = replace(thin, volume_per_loss_ratio=0.0)
    at = Drying(loss_ratio=0.30, surface_ratio=1.3 - 0.30 * 2.3)
    lost = [float(step(each, at, air(), 0.01, MATHS).loss_ratio) - 0.30 for each in (thin, rigid)]
    # Nearly all resistance is outside, so that the pace goes with the surface.
    assert lost[0] / lost[1] == pytest.approx(0.8258, rel=2e-3)


@pytest.mark.parametrize("temperature_c", [0.01, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0])
def test_saturation_pressure_is_that_of_water(temperature_c: float) -> None:
    """CoolProp's water is IAPWS-95; the Magnus form is to lie within 0.3 % of it here."""
    expected_pa = PropsSI("P", "T", 273.15 + temperature_c, "Q", 0, "Water")
    assert saturation_pressure_fast_pa(temperature_c) == pytest.approx(expected_pa, rel=3e-3)


sticks = st.builds(
    Stick,
    transfer_kg_per_m2_s_pa=st.floats(2e-9, 6e-8),
    diffusivity_m2_per_s=st.floats(1e-11, 3e-10),
    activation_kj_per_mol=st.floats(10.0, 40.0),
    strength=st.floats(0.04, 0.13),
    steepness=st.floats(0.65, 1.1),
    water_ratio=st.floats(0.8, 1.9),
    radius_m=st.floats(0.006, 0.016),
)
temperatures = st.floats(2.0, 26.0)
humidities = st.floats(50.0, 90.0)  # rooms in which sticks hang


@settings(max_examples=60, deadline=None)
@given(sticks, temperatures, humidities)
def test_what_is_lost_is_what_flowed(
    stick: Stick, temperature_c: float, humidity_pct: float
) -> None:
    """Water and dry matter left, and weight lost, make up the weight as hung, to 1e-9."""
    over, drying = air(temperature_c, humidity_pct), hung(stick)
    dry = 1.0 / (1.0 + stick.water_ratio)
    for _ in range(48):
        drying = step(stick, drying, over, 1.0, MATHS)
        left = mean_water_ratio(stick, drying.loss_ratio) * dry
        assert left + dry + drying.loss_ratio == pytest.approx(1.0, abs=1e-9)
        # Water flows the way it is moister: out where the surface is the drier.
        assert drying.surface_ratio <= left / dry + 1e-9 or drying.loss_ratio < 0.0


@settings(max_examples=60, deadline=None)
@given(sticks, temperatures)
def test_in_air_as_moist_as_the_stick_no_weight_is_lost(stick: Stick, temperature_c: float) -> None:
    activity, _ = water_activity(stick.water_ratio, stick.strength, stick.steepness, math.exp)
    for above in (0.0, 0.02):
        drying = dried(stick, air(temperature_c, 100.0 * (float(activity) + above)), 48.0)
        assert drying.loss_ratio <= 1e-9


@settings(max_examples=40, deadline=None)
@given(sticks, temperatures, humidities, st.sampled_from(["humidity", "diffusivity", "transfer"]))
def test_moister_air_is_never_earlier_and_easier_ways_never_later(
    stick: Stick, temperature_c: float, humidity_pct: float, what: str
) -> None:
    before_h = hours_to(stick, air(temperature_c, humidity_pct), 0.25, 4.0)
    if what == "humidity":
        after_h = hours_to(stick, air(temperature_c, humidity_pct + 3.0), 0.25, 4.0)
        assert after_h >= before_h - 1e-9
        return
    easier = (
        replace(stick, diffusivity_m2_per_s=1.2 * stick.diffusivity_m2_per_s)
        if what == "diffusivity"
        else replace(stick, transfer_kg_per_m2_s_pa=1.2 * stick.transfer_kg_per_m2_s_pa)
    )
    assert hours_to(easier, air(temperature_c, humidity_pct), 0.25, 4.0) <= before_h + 1e-9


@settings(max_examples=20, deadline=None)
@given(sticks, st.floats(8.0, 26.0), st.floats(65.0, 88.0))
def test_it_ends_in_equilibrium_with_the_air(
    stick: Stick, temperature_c: float, humidity_pct: float
) -> None:
    drying = dried(stick, air(temperature_c, humidity_pct), 24.0 * 500, 12.0)
    wanted = equilibrium_water_ratio(humidity_pct / 100.0, stick.strength, stick.steepness)
    assert mean_water_ratio(stick, drying.loss_ratio) == pytest.approx(wanted, rel=1e-3)
    assert core_water_ratio(stick, drying, MATHS) == pytest.approx(
        min(wanted, stick.water_ratio), rel=3e-3
    )


@settings(max_examples=40, deadline=None)
@given(sticks, temperatures, humidities)
def test_half_the_step_moves_the_arrival_by_less_than_a_hundredth(
    stick: Stick, temperature_c: float, humidity_pct: float
) -> None:
    """Up to a Biot number of 10, as far as the model says how good it is; sticks have 0.2 to 0.4."""
    over = air(temperature_c, humidity_pct)
    halfway = stick.water_ratio - 0.125 * (1.0 + stick.water_ratio)
    _, slope = water_activity(halfway, stick.strength, stick.steepness, math.exp)
    dry_kg_per_m3 = FRESH_KG_PER_M3 / (1.0 + stick.water_ratio)
    outside = stick.transfer_kg_per_m2_s_pa * over.saturation_pa * slope * stick.radius_m
    assume(outside / (dry_kg_per_m3 * stick.diffusivity_m2_per_s) <= 10.0)
    coarse_h = hours_to(stick, over, 0.25)
    assume(12.0 < coarse_h < 1000.0)
    assert hours_to(stick, over, 0.25, 0.5) == pytest.approx(coarse_h, rel=0.01)


@settings(max_examples=60, deadline=None)
@given(sticks, temperatures, humidities, st.floats(0.1, 4.0))
def test_no_step_of_the_forecast_runs_past_the_air(
    stick: Stick, temperature_c: float, humidity_pct: float, over_h: float
) -> None:
    """The driest it can get is its equilibrium; a step of up to 4 h may not dry it beyond."""
    drying = hung(stick)
    driest = equilibrium_water_ratio(humidity_pct / 100.0, stick.strength, stick.steepness)
    for _ in range(100):
        drying = step(stick, drying, air(temperature_c, humidity_pct), over_h, MATHS)
        mean = mean_water_ratio(stick, drying.loss_ratio)
        assert mean >= min(driest, stick.water_ratio) - 0.005 * stick.water_ratio


@settings(max_examples=60, deadline=None)
@given(sticks, temperatures, st.floats(1.0, 100.0), st.floats(1.0, 1000.0), st.floats(1.0, 1e4))
def test_no_step_however_long_takes_more_water_than_there_is(
    stick: Stick, temperature_c: float, humidity_pct: float, over_h: float, ease: float
) -> None:
    stick = replace(stick, transfer_kg_per_m2_s_pa=ease * stick.transfer_kg_per_m2_s_pa)
    drying = hung(stick)
    for _ in range(5):
        drying = step(stick, drying, air(temperature_c, humidity_pct), over_h, MATHS)
        assert mean_water_ratio(stick, drying.loss_ratio) > 0.0
        assert drying.surface_ratio > 0.0


@settings(max_examples=30, deadline=None)
@given(st.lists(sticks, min_size=2, max_size=5), temperatures, humidities)
def test_arrays_dry_as_their_sticks_do_one_by_one(
    group: list[Stick], temperature_c: float, humidity_pct: float
) -> None:
    names = ("transfer_kg_per_m2_s_pa", "diffusivity_m2_per_s", "activation_kj_per_mol",
             "strength", "steepness", "water_ratio", "radius_m")  # fmt: skip
    columns: dict[str, Any] = {
        name: np.array([getattr(each, name) for each in group]) for name in names
    }
    together = Stick(**columns)
    maths = Maths(exp=np.exp, larger=np.maximum)
    drying = hung(together)
    for _ in range(24):
        drying = step(together, drying, air(temperature_c, humidity_pct), 1.0, maths)
    for number, each in enumerate(group):
        alone = dried(each, air(temperature_c, humidity_pct), 24.0)
        assert drying.loss_ratio[number] == pytest.approx(alone.loss_ratio, rel=1e-12, abs=1e-15)
        assert drying.surface_ratio[number] == pytest.approx(alone.surface_ratio, rel=1e-12)


def test_thin_sticks_go_by_their_surface_and_thick_ones_by_their_inside() -> None:
    """The time's power of the diameter rises from about the surface's 1 towards diffusion's 2.

    IAFP 2016 abstract 12364: days to a moisture:protein ratio of 1.3 are 18, 25, 53 for 32, 55 and
    80 mm, powers of 0.6 and 2.0. Of rooms that were not told; a check of the order only.
    """
    hours = [
        hours_to(replace(USUAL, radius_m=mm / 2000.0), air(13.0, 75.0), 0.35)
        for mm in (16.0, 32.0, 55.0, 80.0)
    ]
    powers = [
        math.log(later / earlier) / math.log(thick / thin)
        for (earlier, later), (thin, thick) in zip(
            pairwise(hours), ((16, 32), (32, 55), (55, 80)), strict=True
        )
    ]
    assert powers == sorted(powers)
    assert 0.95 < powers[0] < powers[-1] < 2.05


# By diameter in mm and humidity in %, at 12 degC: most lost in a day (%), surface over core water
# at 24 h and at the least on the way to 0.70 of the weight as hung, hours to get there. Worked out
# before this model was written, with another: 18 shells, diffusivity that falls, wet bulb; a stick
# of 1.3 kg/kg, film 9 W/m2K, casing 2e-8 kg/m2 s Pa.
SHELL_MAP = [
    *((16, 55, 12.4, 0.62, 0.47, 67), (16, 65, 9.5, 0.70, 0.60, 89), (16, 75, 6.5, 0.79, 0.73, 137)),
    *((19, 55, 10.5, 0.62, 0.43, 80), (19, 65, 8.0, 0.70, 0.55, 108), (19, 75, 5.5, 0.79, 0.70, 164)),
    *((25, 55, 8.0, 0.63, 0.36, 109), (25, 65, 6.1, 0.71, 0.48, 146), (25, 75, 4.2, 0.80, 0.63, 222)),
]  # fmt: skip


@pytest.mark.parametrize("row", SHELL_MAP, ids=lambda row: f"{row[0]} mm {row[1]} %RH")
def test_the_median_stick_dries_as_a_shell_model_has_it(row: tuple[float, ...]) -> None:
    """Hours within 5 %, the first day within 0.4 points, the skin within 0.09.

    The skin is the worst: one layer for all shapes that the front takes on its way in.
    """
    mm, pct, day_pct, skin_24h, least, hours = row
    stick, over = replace(USUAL, radius_m=mm / 2000.0), air(12.0, pct)
    assert hours_to(stick, over, 0.30) == pytest.approx(hours, rel=0.05)
    drying, skins = hung(stick), {}
    for from_h, to_h in pairwise(edges_h(hours, 1.0)):
        drying = step(stick, drying, over, to_h - from_h, MATHS)
        skins[to_h] = float(drying.surface_ratio / core_water_ratio(stick, drying, MATHS))
        if to_h == 24.0:
            assert 100.0 * drying.loss_ratio == pytest.approx(day_pct, abs=0.4)
    assert skins[24.0] == pytest.approx(skin_24h, abs=0.09)
    assert min(skins.values()) == pytest.approx(least, abs=0.07)
