"""Saturation against CoolProp (IAPWS-95 water; Herrmann et al. 2009 moist air)."""

import pytest
from CoolProp.CoolProp import PropsSI
from CoolProp.HumidAirProp import HAPropsSI

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


@pytest.mark.parametrize("temperature_c", [-18.0, -10.0, -2.0])
def test_saturated_vapour_over_ice_agrees_with_the_reference_library(temperature_c: float) -> None:
    # Moist air at 1 bar holds up to 0.5 % more than bare vapour (enhancement factor).
    pressure_pa = HAPropsSI("P_w", "T", temperature_c + 273.15, "P", 101325, "R", 1.0)
    expected = pressure_pa / (461.5 * (temperature_c + 273.15))
    assert coil_saturation_kg_per_m3(temperature_c) == pytest.approx(expected, rel=7e-3)


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
