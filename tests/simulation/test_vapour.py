"""Saturation against CoolProp (IAPWS-95 water) and the IAPWS equation for ice."""

from math import exp

import pytest
from CoolProp.CoolProp import PropsSI

from hangroom.simulation.vapour import (
    coil_saturation_kg_per_m3,
    humidity_pct,
    saturation_kg_per_m3,
)


@pytest.mark.parametrize("temperature_c", [0.5, 4.0, 12.0, 15.0, 20.0, 30.0, 45.0])
def test_saturated_vapour_over_water_agrees_with_the_reference_library(
    temperature_c: float,
) -> None:
    # Buck's formula claims 0.05 %; the ideal gas at saturation adds up to 0.3 % at 45 degC.
    pressure_pa = PropsSI("P", "T", temperature_c + 273.15, "Q", 1, "Water")
    expected = pressure_pa / (461.5 * (temperature_c + 273.15))
    assert saturation_kg_per_m3(temperature_c) == pytest.approx(expected, rel=1e-3)


def sublimation_pa(temperature_k: float) -> float:
    """Pressure of vapour over ice: IAPWS R14-08 (2011), eq. 6."""
    theta = temperature_k / 273.16
    terms = (
        (-21.2144006, 0.333333333e-2),
        (27.3203819, 1.20666667),
        (-6.10598130, 1.70333333),
    )
    return 611.657 * exp(sum(a * theta**b for a, b in terms) / theta)


def test_the_reference_for_ice_meets_its_own_check_value() -> None:
    # IAPWS R14-08, table 3: 8.94735 Pa at 230 K.
    assert sublimation_pa(230.0) == pytest.approx(8.94735, rel=1e-6)


@pytest.mark.parametrize("temperature_c", [-18.0, -10.0, -2.0])
def test_saturated_vapour_over_ice_agrees_with_iapws(temperature_c: float) -> None:
    # Buck states 0.1 to 0.2 % for his equations over ice.
    temperature_k = temperature_c + 273.15
    expected = sublimation_pa(temperature_k) / (461.5 * temperature_k)
    assert coil_saturation_kg_per_m3(temperature_c) == pytest.approx(expected, rel=2e-3)


@pytest.mark.parametrize(
    ("temperature_c", "rh_pct", "published_g_per_m3"),
    [(10, 75, 7.049), (12, 75, 7.995), (13, 80, 9.075), (18, 60, 9.220), (25, 40, 9.215)],
)
def test_humidity_of_a_known_vapour_density_is_found_again(
    temperature_c: float, rh_pct: float, published_g_per_m3: float
) -> None:
    # Vapour densities computed with CoolProp HumidAir at 101.325 kPa.
    seen = humidity_pct(vapour_kg_per_m3=published_g_per_m3 / 1000, temperature_c=temperature_c)
    assert seen == pytest.approx(rh_pct, rel=5e-3)
