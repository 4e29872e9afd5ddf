"""How strongly a drying stick holds its water: water activity from water content.

aw = exp(-A X^-r), X in kg water per kg of all dry matter, fat and salt included. Fitted so to four
published curves of a salted, sugared dry sausage (Foods 10 (2021) 1460, table 3: A 0.085, r 0.98,
root mean square error 0.014 in aw over 16 points, aw 0.79 to 0.96, 25 degC). Everything here takes
floats or arrays alike; `exp` is handed in, so that nothing here loads numpy.
"""

import math
from collections.abc import Callable
from typing import Any, TypeAlias

from hangroom.product.inputs import require_above_zero, require_within
from hangroom.product.water_activity import brine_aw

Quantity: TypeAlias = Any
"""A float, or an array of floats: one for each way the drying may go."""

Exp = Callable[[Quantity], Quantity]

# The brine of a usual snack stick when hung: 2.2 % salt in a stick of 56.5 % water, X 1.3.
# Common practice, no source; the isotherm's usual A stands for such a stick.
USUAL_WATER_PHASE_SALT_PCT = 3.8

# Beyond these shares of the usual A a recipe is no snack stick any more. Judgement.
LEAST_SHIFT_RATIO, MOST_SHIFT_RATIO = 0.5, 2.5


def water_activity(
    water_ratio: Quantity, strength: Quantity, steepness: Quantity, exp: Exp
) -> tuple[Quantity, Quantity]:
    """Water activity at a water content in kg/kg dry matter, and its slope there, kg dry/kg.

    `strength` A and `steepness` r have no unit; every one of them must be above zero.
    """
    held = strength * water_ratio**-steepness
    activity_aw = exp(-held)
    return activity_aw, activity_aw * held * steepness / water_ratio


def equilibrium_water_ratio(humidity_ratio: float, strength: float, steepness: float) -> float:
    """Water in kg/kg dry matter at which a stick neither dries nor takes up water.

    Raises InputError unless the humidity, a ratio, lies above 0 and below 1.
    """
    require_within("the humidity as a ratio", humidity_ratio, 1e-6, 1.0 - 1e-6)
    require_above_zero("the isotherm's A", strength)
    require_above_zero("the isotherm's r", steepness)
    return math.pow(-math.log(humidity_ratio) / strength, -1.0 / steepness)


def salted_strength(
    strength: float, steepness: float, *, water_phase_salt_pct: float, water_ratio: float
) -> float:
    """A of a recipe whose brine is known as hung, from the A of the usual stick.

    The brine's own share of -ln aw at hanging is exchanged for this recipe's; from there on it
    grows as the rest does, as the same salt comes to stand in less water. Raises InputError beyond
    saturated brine, 26.4 %.
    """
    require_above_zero("the water content as hung", water_ratio)
    more = math.log(brine_aw(USUAL_WATER_PHASE_SALT_PCT)) - math.log(brine_aw(water_phase_salt_pct))
    shifted = strength + more * math.pow(water_ratio, steepness)
    return min(max(shifted, LEAST_SHIFT_RATIO * strength), MOST_SHIFT_RATIO * strength)
