"""The sticks against Crank's cylinder, geometry and the anchors of the isotherm."""

from itertools import pairwise

import pytest

from hangroom.simulation.load import Sticks, meat_activity, meat_diffusivity_m2_per_s
from hangroom.simulation.spec import LoadSpec

# Fractional loss of a cylinder with surface resistance, by Fourier number and L = h R / D:
# Crank, The Mathematics of Diffusion, 2nd ed. 1975, eq. 5.49, summed from its roots (Table 5.2).
FOURIER = (0.01, 0.05, 0.1, 0.2, 0.5, 1.0)
CRANK = {
    0.5: (0.0096, 0.0458, 0.0880, 0.1659, 0.3605, 0.5892),
    1.0: (0.0185, 0.0843, 0.1567, 0.2815, 0.5526, 0.7967),
    2.0: (0.0345, 0.1450, 0.2554, 0.4273, 0.7346, 0.9261),
    5.0: (0.0712, 0.2519, 0.4026, 0.6038, 0.8795, 0.9834),
}


def fractional_losses(shells: int, biot: float) -> list[float]:
    """Dry a stick by a thousandth only, so that nothing shrinks, on a straight isotherm."""
    spec = LoadSpec(mass_kg=1.0, diameter_mm=20.0, water_fraction=0.5)
    diffusivity = 2e-10
    sticks = Sticks(
        spec,
        shells=shells,
        isotherm=lambda water_ratio: (water_ratio, 1.0),
        diffusivity=lambda _: diffusivity,
    )
    dry_kg_per_m3 = 1.0 / (1.0 / 1150.0 + 1.0 / 1000.0)
    film_m_per_s = biot * dry_kg_per_m3 * diffusivity / 0.010
    first_kg, last_ratio = sticks.water_kg, 0.999
    step_s = 20.0
    losses, done_s = [], 0.0
    for fourier in FOURIER:
        while done_s < fourier * 0.010**2 / diffusivity:
            conductance, activity = sticks.evaporation(
                film_m_per_s=film_m_per_s, saturation_kg_per_m3=1.0
            )
            flow = conductance * (activity - last_ratio)
            sticks.give_off(flow * step_s, over_s=step_s, temperature_c=12.0)
            done_s += step_s
        losses.append((first_kg - sticks.water_kg) / (first_kg * (1.0 - last_ratio)))
    return losses


@pytest.mark.parametrize("biot", CRANK)
def test_a_fine_stick_dries_as_crank_s_cylinder(biot: float) -> None:
    assert fractional_losses(40, biot) == pytest.approx(list(CRANK[biot]), abs=0.002)


@pytest.mark.parametrize("biot", CRANK)
def test_the_eight_shells_of_every_day_stay_within_a_hundredth_of_crank(biot: float) -> None:
    assert fractional_losses(8, biot) == pytest.approx(list(CRANK[biot]), abs=0.01)


@pytest.mark.parametrize(
    ("loss", "diameter_ratio"),
    [(0.10, 0.9455), (0.20, 0.8877), (0.30, 0.8258), (0.40, 0.7589)],
)
def test_diameter_shrinks_by_the_volume_of_the_water_lost(
    loss: float, diameter_ratio: float
) -> None:
    # Exact geometry: radial shrinkage only, lost volume = water lost / 1000, density 1060 as hung.
    sticks = Sticks(LoadSpec(mass_kg=1.0, diameter_mm=20.0, water_fraction=0.55))
    while sticks.loss_ratio < loss - 1e-12:
        sticks.give_off(min(0.001, loss - sticks.loss_ratio), over_s=3600.0, temperature_c=12.0)
    # The model's own density as hung is 1062.
    assert sticks.diameter_mm / 20.0 == pytest.approx(diameter_ratio, rel=2e-3)


@pytest.mark.parametrize(("water_ratio", "activity"), [(1.30, 0.965), (0.54, 0.85)])
def test_the_isotherm_goes_through_its_two_anchors(water_ratio: float, activity: float) -> None:
    # The published rounding of k and n moves the curve by up to 0.003.
    assert meat_activity(water_ratio)[0] == pytest.approx(activity, abs=0.003)


@pytest.mark.parametrize("water_ratio", [0.1, 0.3, 0.8, 1.5])
def test_the_isotherm_s_slope_is_its_derivative(water_ratio: float) -> None:
    above, below = meat_activity(water_ratio + 1e-6)[0], meat_activity(water_ratio - 1e-6)[0]
    assert meat_activity(water_ratio)[1] == pytest.approx((above - below) / 2e-6, rel=1e-6)


def test_diffusivity_in_warm_air_is_just_under_that_of_biltong() -> None:
    # Muga et al., J. Biosyst. Eng. 45 (2020) 362: 1.60e-10 to 2.28e-10 m2/s at 30-40 degC, lean
    # beef in fast air. A fatty stick lies below, by less than half.
    assert 0.8e-10 < meat_diffusivity_m2_per_s(35.0) < 2.28e-10


def test_water_leaves_only_as_told_and_weight_follows_it() -> None:
    sticks = Sticks(LoadSpec(mass_kg=5.0, water_fraction=0.55))
    for _ in range(2000):
        sticks.give_off(1e-4, over_s=10.0, temperature_c=12.0)
    assert sticks.weight_kg == pytest.approx(4.8, rel=1e-12)
    assert sticks.loss_ratio == pytest.approx(0.04, rel=1e-10)
    assert sticks.mean_water_ratio == pytest.approx((2.75 - 0.2) / 2.25, rel=1e-12)


def test_the_core_stays_wetter_than_the_surface_while_drying() -> None:
    sticks = Sticks(LoadSpec())
    for _ in range(5000):
        sticks.give_off(2e-5, over_s=10.0, temperature_c=12.0)
    waters = (*sticks.water_ratios, sticks.surface_water_ratio)
    assert all(inner > outer for inner, outer in pairwise(waters))
