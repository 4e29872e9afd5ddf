"""Moist air in SI units: psychrolib's ASHRAE relations behind names that carry their unit.

psychrolib keeps its unit system in a global; it is set once, here, and nothing else in hangroom
imports it. Below 0.01 degC it takes saturation over ice (ASHRAE Handbook Fundamentals 2017,
ch. 1, eq. 5), so there a dew point is a frost point and 100 % is saturation over ice.
"""

import math
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

# psychrolib compiles itself with numba wherever that is installed, and with it loads numpy and
# scipy, which neither daemon nor page shall carry; so it is made to look absent meanwhile.
_hidden = "numba" not in sys.modules
if _hidden:
    sys.modules["numba"] = None  # type: ignore[assignment] # this is how an import is refused
try:
    import psychrolib
finally:
    if _hidden:
        del sys.modules["numba"]

psychrolib.SetUnitSystem(psychrolib.SI)

STANDARD_PRESSURE_PA = 101_325.0
WATER_VAPOUR_GAS_CONSTANT_J_PER_KG_K = 461.52  # 8.314462 / 0.0180153 kg/mol
KELVIN_AT_0_C = 273.15

# From a cold winter's outside air to a smoker. psychrolib itself reaches further, but near
# boiling at ambient pressure the humidity ratio runs away.
LOWEST_C, HIGHEST_C = -40.0, 90.0
# Below 1 % psychrolib silently lifts the humidity ratio to 1e-7; no room a stick hangs in is so
# dry, and a sensor that says so is faulty.
DRIEST_PCT, WETTEST_PCT = 1.0, 100.0
LOWEST_PRESSURE_PA, HIGHEST_PRESSURE_PA = 60_000.0, 110_000.0


def _within(what: str, number: float, low: float, high: float, unit: str) -> None:
    if not low <= number <= high:
        raise ValueError(
            f"{what} is {number:g} {unit}, outside {low:g} to {high:g} {unit} where the formula"
            " holds; treat the reading as absent."
        )


def _check(temperature_c: float, humidity_pct: float) -> None:
    _within("temperature", temperature_c, LOWEST_C, HIGHEST_C, "degC")
    _within("relative humidity", humidity_pct, DRIEST_PCT, WETTEST_PCT, "%")


def _check_pressure(pressure_pa: float) -> None:
    _within("air pressure", pressure_pa, LOWEST_PRESSURE_PA, HIGHEST_PRESSURE_PA, "Pa")


def saturation_pressure_pa(temperature_c: float) -> float:
    """Vapour pressure over water, over ice below 0.01 degC.

    Raises ValueError outside -40 to 90 degC. Source: ASHRAE Handbook Fundamentals 2017, ch. 1,
    eq. 5 and 6, through psychrolib.
    """
    _within("temperature", temperature_c, LOWEST_C, HIGHEST_C, "degC")
    return float(psychrolib.GetSatVapPres(temperature_c))


FAST_LOWEST_C, FAST_HIGHEST_C = -40.0, 50.0


def saturation_pressure_fast_pa(temperature_c: float) -> float:
    """Vapour pressure over water, below freezing too; within 0.4 % from -40 to 50 degC.

    For loops that ask it a million times. Raises ValueError outside that range. Source: Magnus
    form, Alduchov & Eskridge 1996, J. Appl. Meteor. 35:601-609, eq. 21, and its stated error.
    """
    _within("temperature", temperature_c, FAST_LOWEST_C, FAST_HIGHEST_C, "degC")
    return 610.94 * math.exp(17.625 * temperature_c / (243.04 + temperature_c))


def vapour_pressure_pa(temperature_c: float, humidity_pct: float) -> float:
    """Partial pressure of water vapour; raises ValueError out of range."""
    _check(temperature_c, humidity_pct)
    return float(psychrolib.GetVapPresFromRelHum(temperature_c, humidity_pct / 100.0))


def vapour_pressure_deficit_pa(temperature_c: float, humidity_pct: float) -> float:
    """How far the vapour is from saturation, the pull on a wet surface; ValueError out of range."""
    return saturation_pressure_pa(temperature_c) - vapour_pressure_pa(temperature_c, humidity_pct)


def vapour_density_g_per_m3(temperature_c: float, humidity_pct: float) -> float:
    """Absolute humidity, grams of water in a cubic metre of air; ValueError out of range.

    Vapour as an ideal gas, within 0.2 % at room temperatures.
    """
    kelvin_k = temperature_c + KELVIN_AT_0_C
    pressure_pa = vapour_pressure_pa(temperature_c, humidity_pct)
    return 1000.0 * pressure_pa / (WATER_VAPOUR_GAS_CONSTANT_J_PER_KG_K * kelvin_k)


def humidity_ratio_kg_per_kg(
    temperature_c: float, humidity_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Water per dry air, kg/kg; ValueError out of range. Source: ASHRAE 2017 ch. 1 eq. 20."""
    _check(temperature_c, humidity_pct)
    _check_pressure(pressure_pa)
    return float(psychrolib.GetHumRatioFromRelHum(temperature_c, humidity_pct / 100.0, pressure_pa))


def dew_point_c(temperature_c: float, humidity_pct: float) -> float:
    """Temperature at which dew forms, or frost where it lies below 0.01 degC.

    Raises ValueError out of range. Source: ASHRAE 2017 ch. 1 eq. 5 and 6, inverted by psychrolib.
    """
    _check(temperature_c, humidity_pct)
    return float(psychrolib.GetTDewPointFromRelHum(temperature_c, humidity_pct / 100.0))


def wet_bulb_c(
    temperature_c: float, humidity_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Thermodynamic wet bulb; ValueError out of range. Source: ASHRAE 2017 ch. 1 eq. 33, 35."""
    _check(temperature_c, humidity_pct)
    _check_pressure(pressure_pa)
    return float(psychrolib.GetTWetBulbFromRelHum(temperature_c, humidity_pct / 100.0, pressure_pa))


def humidity_from_wet_bulb_pct(
    temperature_c: float, wet_bulb_at_c: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Relative humidity from a dry and a wet thermometer, as in a smoker.

    Raises ValueError out of range, and where the wet bulb is warmer than the dry one or so much
    colder that no air could do it. Source: ASHRAE 2017 ch. 1 eq. 33, 35.
    """
    _within("temperature", temperature_c, LOWEST_C, HIGHEST_C, "degC")
    _within("wet bulb", wet_bulb_at_c, LOWEST_C, temperature_c, "degC")
    _check_pressure(pressure_pa)
    found_pct = 100.0 * float(
        psychrolib.GetRelHumFromTWetBulb(temperature_c, wet_bulb_at_c, pressure_pa)
    )
    # The library's own iteration leaves a few parts in a million at saturation.
    humidity_pct = WETTEST_PCT if WETTEST_PCT < found_pct < WETTEST_PCT + 1e-3 else found_pct
    _within("relative humidity from the wet bulb", humidity_pct, DRIEST_PCT, WETTEST_PCT, "%")
    return humidity_pct


def humidity_at_pct(temperature_c: float, humidity_pct: float, other_temperature_c: float) -> float:
    """Relative humidity of the same vapour at another temperature; above 100 water condenses.

    Raises ValueError out of range. The vapour's pressure is kept: air in the open, not sealed.
    """
    kept_pa = vapour_pressure_pa(temperature_c, humidity_pct)
    return 100.0 * kept_pa / saturation_pressure_pa(other_temperature_c)


class Salt(StrEnum):
    """Salts whose saturated slurry in a closed jar holds a known humidity."""

    LITHIUM_CHLORIDE = "LiCl"
    MAGNESIUM_CHLORIDE = "MgCl2"
    POTASSIUM_CARBONATE = "K2CO3"
    MAGNESIUM_NITRATE = "Mg(NO3)2"
    SODIUM_CHLORIDE = "NaCl"
    POTASSIUM_CHLORIDE = "KCl"
    POTASSIUM_SULPHATE = "K2SO4"


@dataclass(frozen=True, slots=True)
class FixedPoint:
    """Humidity over a salt slurry: `coefficients` a0, a1, ... of a polynomial in degC, in %RH.

    `bound_pct`: bound of the published uncertainty, None where none was seen.
    """

    coefficients: tuple[float, ...]
    highest_c: float
    bound_pct: float | None


# Greenspan 1977, J. Res. NBS 81A(1):89-96, from three public copies, none the paper
# itself. Two of them carry a minus sign on the second figure of LiCl, and one on that of K2CO3;
# only the plus signs give the paper's tabulated 11.30 and 43.16 at 25 degC. LiCl changes its
# hydrate near 18 degC. Upper ends other than those of K2CO3, Mg(NO3)2 and K2SO4 are ours.
SALTS: Mapping[Salt, FixedPoint] = MappingProxyType(
    {
        Salt.LITHIUM_CHLORIDE: FixedPoint((11.2323, 0.00824245, -2.14890e-4), 50.0, 0.6),
        Salt.MAGNESIUM_CHLORIDE: FixedPoint((33.6686, -0.00797397, -1.08988e-3), 50.0, 0.4),
        Salt.POTASSIUM_CARBONATE: FixedPoint((43.1315, 0.00147523), 30.0, None),
        Salt.MAGNESIUM_NITRATE: FixedPoint((60.3514, -0.298153), 50.0, 0.7),
        Salt.SODIUM_CHLORIDE: FixedPoint(
            (75.5164, 0.0398321, -2.65459e-3, 2.848e-5), 50.0, 0.4
        ),
        Salt.POTASSIUM_CHLORIDE: FixedPoint((88.6190, -0.193340, 8.99706e-4), 50.0, 0.6),
        Salt.POTASSIUM_SULPHATE: FixedPoint((98.7792, -0.0590502), 50.0, 1.1),
    }
)  # fmt: skip


def salt_humidity_pct(salt: Salt, temperature_c: float) -> float:
    """Relative humidity over a saturated slurry with visible solid, hours at one temperature.

    Raises ValueError below 0 degC or above the salt's range. Source: Greenspan 1977.
    """
    point = SALTS[salt]
    _within(f"temperature of the {salt} jar", temperature_c, 0.0, point.highest_c, "degC")
    return sum(a * temperature_c**power for power, a in enumerate(point.coefficients))
