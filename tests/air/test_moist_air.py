"""Psychrometrics against CoolProp and published tables."""

import math

import pytest
from CoolProp.HumidAirProp import HAPropsSI
from hypothesis import given
from hypothesis import strategies as st

from hangroom import air

# Computed with CoolProp's HumidAir (Herrmann, Kretzschmar & Gatley 2009, the base of ASHRAE
# Handbook Fundamentals 2017 ch. 1) at 101.325 kPa. Tolerances for this table: 0.1 K, 0.5 %.
# degC, %RH, dew or frost point degC, wet bulb degC, W kg/kg, g/m3, VPD Pa
ROWS = [
    (4, 70, -0.856, 1.944, 0.003530, 4.452, 244.1),
    (10, 75, 5.779, 7.844, 0.005729, 7.049, 307.0),
    (12, 75, 7.712, 9.689, 0.006553, 7.995, 350.7),
    (13, 80, 9.635, 11.105, 0.007475, 9.075, 299.6),
    (15, 65, 8.483, 11.370, 0.006909, 8.337, 597.0),
    (18, 60, 10.130, 13.408, 0.007730, 9.220, 825.9),
    (20, 50, 9.274, 13.776, 0.007294, 8.645, 1169.7),
    (22, 45, 9.536, 14.664, 0.007425, 8.739, 1454.9),
    (25, 40, 10.479, 16.201, 0.007915, 9.215, 1902.0),
]


@pytest.mark.parametrize(
    ("temperature_c", "humidity_pct", "dew_c", "wet_c", "w", "density", "vpd"), ROWS
)
def test_room_air_agrees_with_the_reference_table(
    *,
    temperature_c: float,
    humidity_pct: float,
    dew_c: float,
    wet_c: float,
    w: float,
    density: float,
    vpd: float,
) -> None:
    assert air.dew_point_c(temperature_c, humidity_pct) == pytest.approx(dew_c, abs=0.1)
    assert air.wet_bulb_c(temperature_c, humidity_pct) == pytest.approx(wet_c, abs=0.1)
    assert air.humidity_ratio_kg_per_kg(temperature_c, humidity_pct) == pytest.approx(w, rel=0.005)
    assert air.vapour_density_g_per_m3(temperature_c, humidity_pct) == pytest.approx(
        density, rel=0.005
    )
    assert air.vapour_pressure_deficit_pa(temperature_c, humidity_pct) == pytest.approx(
        vpd, rel=0.005
    )


# ASHRAE Handbook Fundamentals, ch. 1 table 2, humidity ratio at saturation (from memory; CoolProp
# agrees with them to 0.03 %), and saturation pressures of CoolProp.
@pytest.mark.parametrize(
    ("temperature_c", "saturation_pa", "w"),
    [
        (5, 872.58, 0.005424),
        (10, 1228.20, 0.007661),
        (15, 1705.79, 0.010694),
        (20, 2339.32, 0.014758),
        (25, 3169.93, 0.020170),
        (30, 4246.97, 0.027329),
    ],
)
def test_saturated_air_agrees_with_the_steam_and_ashrae_tables(
    temperature_c: float, saturation_pa: float, w: float
) -> None:
    assert air.saturation_pressure_pa(temperature_c) == pytest.approx(saturation_pa, rel=0.001)
    assert air.humidity_ratio_kg_per_kg(temperature_c, 100) == pytest.approx(w, rel=0.005)


@pytest.mark.parametrize("temperature_c", [-15.0, -5.0, 1.0, 12.0, 25.0, 55.0, 70.0, 80.0])
@pytest.mark.parametrize("humidity_pct", [10.0, 45.0, 75.0, 99.0])
def test_the_whole_range_down_to_frost_and_up_to_a_smoker_agrees_with_coolprop(
    temperature_c: float, humidity_pct: float
) -> None:
    state = ("T", temperature_c + 273.15, "R", humidity_pct / 100, "P", 101_325)
    assert air.dew_point_c(temperature_c, humidity_pct) == pytest.approx(
        HAPropsSI("D", *state) - 273.15, abs=0.1
    )
    assert air.wet_bulb_c(temperature_c, humidity_pct) == pytest.approx(
        HAPropsSI("B", *state) - 273.15, abs=0.1
    )
    # ASHRAE's equation leaves out the enhancement factor of water in air, which CoolProp has; its
    # share grows with the steam, beyond the table's 0.5 % from about 40 degC on.
    share = 0.005 if temperature_c < 40 else 0.02
    w = HAPropsSI("W", *state)
    assert air.humidity_ratio_kg_per_kg(temperature_c, humidity_pct) == pytest.approx(w, rel=share)


def test_humidity_from_a_smokers_wet_bulb_agrees_with_coolprop() -> None:
    for dry_c, wet_c in [(54.4, 43.0), (65.6, 50.0), (82.2, 60.0), (20.0, 13.776)]:
        expected = 100 * HAPropsSI("R", "T", dry_c + 273.15, "B", wet_c + 273.15, "P", 101_325)
        assert air.humidity_from_wet_bulb_pct(dry_c, wet_c) == pytest.approx(expected, abs=0.5)


def test_equal_wet_and_dry_bulbs_are_saturated_air() -> None:
    for temperature_c in (2.0, 13.0, 60.0):
        assert air.humidity_from_wet_bulb_pct(temperature_c, temperature_c) == pytest.approx(
            100, abs=0.01
        )


@given(st.floats(-30, 45), st.floats(5, 100))
def test_dew_point_lies_below_wet_bulb_and_wet_bulb_below_the_air(
    temperature_c: float, humidity_pct: float
) -> None:
    dew_c, wet_c = (
        air.dew_point_c(temperature_c, humidity_pct),
        air.wet_bulb_c(temperature_c, humidity_pct),
    )
    # psychrolib iterates to 0.001 K.
    assert dew_c - 0.002 <= wet_c <= temperature_c + 0.002


@given(st.floats(-10, 35), st.floats(10, 100), st.floats(-10, 35))
def test_warming_air_and_cooling_it_back_gives_the_same_humidity(
    temperature_c: float, humidity_pct: float, other_c: float
) -> None:
    there_pct = air.humidity_at_pct(temperature_c, humidity_pct, other_c)
    if 1 <= there_pct <= 100:
        assert air.humidity_at_pct(other_c, there_pct, temperature_c) == pytest.approx(humidity_pct)


def test_air_cooled_to_its_dew_point_is_just_saturated_and_below_it_condenses() -> None:
    # Dew point of air at 18 degC and 60 %: 10.130 degC (CoolProp).
    assert air.humidity_at_pct(18, 60, 10.130) == pytest.approx(100, abs=0.5)
    assert air.humidity_at_pct(18, 60, 8) > 110


# The same 75 % pulls 122 Pa on a surface of water activity 0.90 at 4 degC and 224 Pa at 13 degC.
@pytest.mark.parametrize(("temperature_c", "pull_pa"), [(4.0, 122.0), (13.0, 224.0)])
def test_the_same_humidity_dries_about_half_as_fast_in_the_fridge(
    temperature_c: float, pull_pa: float
) -> None:
    surface_pa = 0.90 * air.saturation_pressure_pa(temperature_c)
    assert surface_pa - air.vapour_pressure_pa(temperature_c, 75) == pytest.approx(pull_pa, abs=1.0)


@given(st.floats(0.02, 50))
def test_the_fast_saturation_pressure_keeps_its_authors_stated_error(temperature_c: float) -> None:
    # Alduchov & Eskridge 1996 state less than 0.4 %.
    fast_pa = air.saturation_pressure_fast_pa(temperature_c)
    assert fast_pa == pytest.approx(air.saturation_pressure_pa(temperature_c), rel=0.004)


# Over supercooled water, Goff & Gratch as in the Smithsonian Meteorological Tables, from memory.
@pytest.mark.parametrize(
    ("temperature_c", "published_pa"), [(-10.0, 286.27), (-20.0, 125.40), (-40.0, 18.91)]
)
def test_the_fast_saturation_pressure_stays_over_water_below_freezing(
    temperature_c: float, published_pa: float
) -> None:
    assert air.saturation_pressure_fast_pa(temperature_c) == pytest.approx(published_pa, rel=0.004)


@pytest.mark.parametrize("temperature_c", [-40.1, 90.1, math.nan, math.inf])
def test_a_temperature_out_of_range_is_refused(temperature_c: float) -> None:
    for relation in (
        air.vapour_pressure_pa,
        air.dew_point_c,
        air.wet_bulb_c,
        air.humidity_ratio_kg_per_kg,
        air.vapour_density_g_per_m3,
    ):
        with pytest.raises(ValueError, match=r"temperature is .* outside -40 to 90 degC"):
            relation(temperature_c, 50.0)
    with pytest.raises(ValueError, match="temperature is"):
        air.saturation_pressure_fast_pa(temperature_c)


@pytest.mark.parametrize("humidity_pct", [-1.0, 0.0, 0.5, 100.01, math.nan])
def test_a_humidity_out_of_range_is_refused(humidity_pct: float) -> None:
    for relation in (
        air.vapour_pressure_pa,
        air.dew_point_c,
        air.wet_bulb_c,
        air.humidity_ratio_kg_per_kg,
    ):
        with pytest.raises(ValueError, match=r"relative humidity is .* outside 1 to 100 %"):
            relation(20.0, humidity_pct)


def test_a_wet_bulb_that_no_air_could_have_is_refused() -> None:
    with pytest.raises(ValueError, match="wet bulb is"):
        air.humidity_from_wet_bulb_pct(20.0, 20.5)
    with pytest.raises(ValueError, match="relative humidity from the wet bulb"):
        air.humidity_from_wet_bulb_pct(60.0, 5.0)


def test_an_air_pressure_in_hectopascals_is_refused() -> None:
    with pytest.raises(ValueError, match="air pressure is 1013 Pa"):
        air.wet_bulb_c(20.0, 50.0, pressure_pa=1013.0)
