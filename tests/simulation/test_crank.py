"""The sticks against Crank's cylinder, with and without a surface resistance.

Crank, The Mathematics of Diffusion, 2nd ed. 1975, ch. 5: the fractional loss of a cylinder that
keeps its size, at Fourier number Fo = D t / R2 (eqs 5.23 and 5.49, numbers from memory)::

    E = 1 - sum 4/alpha2 exp(-alpha2 Fo),                    J0(alpha) = 0
    E = 1 - sum 4 L2 / (beta2 (beta2 + L2)) exp(-beta2 Fo),  beta J1(beta) = L J0(beta)
"""

from math import exp, inf, sqrt

import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from hangroom.simulation.load import Sticks
from hangroom.simulation.spec import LoadSpec

FOURIER = (0.01, 0.05, 0.1, 0.2, 0.5, 1.0)
TABLE = {
    0.5: (0.0096, 0.0458, 0.0880, 0.1659, 0.3605, 0.5892),
    1.0: (0.0185, 0.0843, 0.1567, 0.2815, 0.5526, 0.7967),
    2.0: (0.0345, 0.1450, 0.2554, 0.4273, 0.7346, 0.9261),
    5.0: (0.0712, 0.2519, 0.4026, 0.6038, 0.8795, 0.9834),
    10.0: (0.1092, 0.3289, 0.4900, 0.6883, 0.9252, 0.9930),
    inf: (0.2155, 0.4521, 0.6058, 0.7821, 0.9616, 0.9979),
}
# The first three roots, Crank's table 5.2.
ROOTS = {
    0.5: (0.9408, 3.9594, 7.0864),
    1.0: (1.2558, 4.0795, 7.1558),
    2.0: (1.5994, 4.2910, 7.2884),
    5.0: (1.9898, 4.7131, 7.6177),
    10.0: (2.1795, 5.0332, 7.9569),
    inf: (2.4048, 5.5201, 8.6537),
}
SLOW_M2_PER_S = 1e-11  # so slow that a minute's step is a small one
RADIUS_M = 0.010


def roots(biot: float, count: int = 200) -> list[float]:
    if biot == inf:
        return list(jn_zeros(0, count))
    # One root lies between each zero of J1 (the first is 0) and the zero of J0 above it.
    below = [1e-9, *jn_zeros(1, count - 1)]
    above = jn_zeros(0, count)
    return [
        brentq(lambda b: b * j1(b) - biot * j0(b), low, high)
        for low, high in zip(below, above, strict=True)
    ]


def crank(biot: float, fourier: float) -> float:
    left = 0.0
    for root in roots(biot):
        share = 4.0 / root**2
        if biot != inf:
            share *= biot**2 / (root**2 + biot**2)
        left += share * exp(-(root**2) * fourier)
    return 1.0 - left


def fractional_losses(shells: int, biot: float, diffusivity_m2_per_s: float) -> list[float]:
    """Dry a stick by a thousandth only, so that nothing shrinks, on a straight isotherm."""
    sticks = Sticks(
        LoadSpec(mass_kg=1.0, diameter_mm=2000.0 * RADIUS_M, water_fraction=0.5),
        shells=shells,
        isotherm=lambda water_ratio: (water_ratio, 1.0),
        diffusivity=lambda _: diffusivity_m2_per_s,
    )
    dry_kg_per_m3 = 1.0 / (1.0 / 1150.0 + 1.0 / 1000.0)
    film_m_per_s = min(biot, 1e9) * dry_kg_per_m3 * diffusivity_m2_per_s / RADIUS_M
    first_kg, last_ratio = sticks.water_kg, 0.999
    losses, done_s = [], 0.0
    for fourier in FOURIER:
        until_s = fourier * RADIUS_M**2 / diffusivity_m2_per_s
        while done_s < until_s - 1e-6:
            step_s = min(60.0 if done_s < 1e5 else 180.0, until_s - done_s)
            conductance, activity = sticks.evaporation(
                film_m_per_s=film_m_per_s, saturation_kg_per_m3=1.0
            )
            flow = conductance * (activity - last_ratio)
            sticks.give_off(flow * step_s, over_s=step_s, temperature_c=12.0)
            done_s += step_s
        losses.append((first_kg - sticks.water_kg) / (first_kg * (1.0 - last_ratio)))
    return losses


@pytest.mark.parametrize("biot", ROOTS)
def test_the_roots_found_here_are_those_of_crank_s_table(biot: float) -> None:
    assert roots(biot)[:3] == pytest.approx(ROOTS[biot], abs=6e-5)


@pytest.mark.parametrize("biot", TABLE)
def test_the_series_summed_here_is_the_published_one(biot: float) -> None:
    assert [crank(biot, fourier) for fourier in FOURIER] == pytest.approx(TABLE[biot], abs=6e-5)


def test_the_series_without_resistance_starts_as_the_small_time_solution() -> None:
    assert crank(inf, 0.01) == pytest.approx(4.0 * sqrt(0.01 / 3.14159265) - 0.01, abs=2.5e-4)


@pytest.mark.parametrize("biot", TABLE)
def test_a_fine_stick_dries_as_crank_s_cylinder_to_half_a_per_cent(biot: float) -> None:
    exact = [crank(biot, fourier) for fourier in FOURIER]
    assert fractional_losses(40, biot, SLOW_M2_PER_S) == pytest.approx(exact, rel=5e-3)


@pytest.mark.parametrize("biot", TABLE)
def test_a_room_s_sticks_stay_within_half_a_hundredth_of_crank(biot: float) -> None:
    """As many shells as in a room, at the diffusivity of the warmest air."""
    assert fractional_losses(8, biot, 2e-10) == pytest.approx(list(TABLE[biot]), abs=0.005)
