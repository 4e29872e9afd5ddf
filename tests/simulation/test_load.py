"""The sticks against geometry, the anchors of the isotherm, and what a room must find in them."""

from itertools import pairwise

import pytest

from hangroom.errors import InputError
from hangroom.simulation.casing import Casing
from hangroom.simulation.load import Sticks, hung_sticks
from hangroom.simulation.meat import meat_activity, meat_diffusivity_m2_per_s
from hangroom.simulation.spec import LoadSpec


@pytest.mark.parametrize(
    ("loss", "volume", "diameter", "density"),
    [
        (0.10, 0.8940, 0.9455, 1067.1),
        (0.20, 0.7880, 0.8877, 1076.1),
        (0.25, 0.7350, 0.8573, 1081.6),
        (0.30, 0.6820, 0.8258, 1088.0),
        (0.35, 0.6290, 0.7931, 1095.4),
        (0.40, 0.5760, 0.7589, 1104.2),
        (0.45, 0.5230, 0.7232, 1114.7),
        (0.50, 0.4700, 0.6856, 1127.7),
    ],
)
def test_a_stick_shrinks_by_the_volume_of_the_water_lost(
    loss: float, volume: float, diameter: float, density: float
) -> None:
    """Exact geometry: 1060 kg/m3 as hung, lost volume = water lost / 1000, length kept.

    V/V0 = 1 - 1.06 loss, D/D0 its root, density 1060 (1 - loss) / (V/V0).
    """
    # Solids of 1150 and this share of water make 1060 kg/m3.
    water_fraction = (1 / 1060 - 1 / 1150) / (1 / 1000 - 1 / 1150)
    sticks = Sticks(LoadSpec(mass_kg=1.0, diameter_mm=20.0, water_fraction=water_fraction))
    while sticks.loss_ratio < loss - 1e-12:
        sticks.give_off(min(0.001, loss - sticks.loss_ratio), over_s=3600.0, temperature_c=12.0)
    sticks.give_off(0.0, over_s=60.0, temperature_c=12.0)  # the diameter is that of the last step
    assert sticks.diameter_mm / 20.0 == pytest.approx(diameter, abs=6e-5)
    assert (sticks.diameter_mm / 20.0) ** 2 == pytest.approx(volume, abs=6e-5)
    assert sticks.weight_kg / (sticks.diameter_mm / 20.0) ** 2 * 1060.0 == pytest.approx(
        density, abs=0.06
    )


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


def test_a_casing_stands_in_series_with_the_film() -> None:
    """1/k = 1/k_casing + 1/k_film, on a stick that has not dried yet, so that nothing else tells."""
    permeance, film_m_per_s, saturation = 2e-8, 2.5e-3, 0.0107
    bare, cased = (
        hung_sticks(LoadSpec(casing_kg_per_m2_s_pa=each)).evaporation(
            film_m_per_s=film_m_per_s, saturation_kg_per_m3=saturation
        )[0]
        for each in (None, permeance)
    )
    # What the outer half shell holds up stands in both, so that their difference is the casing.
    area_m2 = hung_sticks(LoadSpec()).surface_m2
    casing_m_per_s = permeance * 461.5 * 285.15
    assert 1 / cased - 1 / bare == pytest.approx(1 / (casing_m_per_s * area_m2), rel=1e-9)


def test_a_casing_that_lets_nothing_through_is_refused() -> None:
    with pytest.raises(InputError, match="casing_kg_per_m2_s_pa is 0"):
        LoadSpec(casing_kg_per_m2_s_pa=0.0)


def test_a_casing_closes_between_its_two_water_activities() -> None:
    casing = Casing(permeance_kg_per_m2_s_pa=2e-8, dry_share=0.4)
    moist = casing.conductance_m_per_s(0.92, temperature_c=12.0)
    assert moist == pytest.approx(2e-8 * 461.5 * 285.15)
    for activity_ratio, share in ((0.97, 1.0), (0.835, 0.7), (0.75, 0.4), (0.5, 0.4)):
        here = casing.conductance_m_per_s(activity_ratio, temperature_c=12.0)
        assert here / moist == pytest.approx(share)


def test_where_a_stick_lies_against_another_nothing_leaves_it() -> None:
    whole, touching = (Sticks(LoadSpec(), exposed_share=share) for share in (1.0, 0.8))
    assert touching.surface_m2 == pytest.approx(0.8 * whole.surface_m2)
    # Film so thin a way that it alone decides: what evaporates goes by the exposed side.
    here, there = (
        each.evaporation(film_m_per_s=1e-7, saturation_kg_per_m3=0.01)[0]
        for each in (touching, whole)
    )
    assert here / there == pytest.approx(0.8, rel=1e-4)
