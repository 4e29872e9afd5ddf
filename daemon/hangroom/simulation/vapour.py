"""Water vapour in air, fast.

The simulator's own, so that a slip in `hangroom.air` cannot hide behind the same slip here.
"""

from collections.abc import Callable
from math import exp
from typing import Any, overload

# kg of water vapour per m3 = Pa / (R_v * K); R_v = 461.5 J/(kg K).
GAS_CONSTANT_J_PER_KG_K = 461.5
ZERO_C_K = 273.15


@overload
def saturation_kg_per_m3(temperature_c: float) -> float: ...


@overload
def saturation_kg_per_m3(temperature_c: Any, *, exp: Callable[[Any], Any]) -> Any: ...  # noqa: ANN401


def saturation_kg_per_m3(temperature_c: Any, *, exp: Callable[[Any], Any] = exp) -> Any:
    """Saturated vapour density over water, kg/m3, -40 to 50 degC; of an array with its own `exp`.

    Buck, J. Appl. Meteor. 20 (1981) 1527, in its 1996 revision (coefficients from memory, held
    against a reference library in the tests).
    """
    pressure_pa = 611.21 * exp(
        (18.678 - temperature_c / 234.5) * temperature_c / (257.14 + temperature_c)
    )
    return pressure_pa / (GAS_CONSTANT_J_PER_KG_K * (temperature_c + ZERO_C_K))


def coil_saturation_kg_per_m3(temperature_c: float) -> float:
    """Saturated vapour density over a coil: over ice below 0 degC, over water above, kg/m3.

    Ice: Buck, same place, -80 to 0 degC.
    """
    if temperature_c >= 0.0:
        return saturation_kg_per_m3(temperature_c)
    pressure_pa = 611.15 * exp(
        (23.036 - temperature_c / 333.7) * temperature_c / (279.82 + temperature_c)
    )
    return pressure_pa / (GAS_CONSTANT_J_PER_KG_K * (temperature_c + ZERO_C_K))


def humidity_pct(*, vapour_kg_per_m3: float, temperature_c: float) -> float:
    """Relative humidity over water, %; above 100 where the air is supersaturated."""
    return 100.0 * vapour_kg_per_m3 / saturation_kg_per_m3(temperature_c)


def saturation_line(temperature_c: float) -> tuple[float, float]:
    """Slope (kg/m3 per degC) and level at 0 degC (kg/m3) of the tangent to the saturation curve."""
    slope = saturation_kg_per_m3(temperature_c + 0.5) - saturation_kg_per_m3(temperature_c - 0.5)
    return slope, saturation_kg_per_m3(temperature_c) - slope * temperature_c
