"""What the stick's mass is like: how tightly it holds its water, and how fast water moves in it.

A function here takes one figure, or an array of them where the caller passes that array's `exp`.
"""

from collections.abc import Callable
from math import exp
from typing import Any

Value = Any
"""A float, or an array with one float for each stick."""

Isotherm = Callable[[Value], tuple[Value, Value]]
"""Water content (kg/kg dry) to water activity and its slope."""

Diffusivity = Callable[[Value], Value]
"""Temperature (degC) to effective diffusivity of water in the fresh mass (m2/s)."""

Slowing = Callable[[Value], Value]
"""Water content (kg/kg dry) to the share of that diffusivity that is left."""


def meat_activity(water_ratio: Value) -> tuple[Value, Value]:
    """Water activity of the stick and its slope, at kg water per kg dry matter.

    Oswin's equation, k 0.206, n 0.555, laid through two points: 0.965 at 1.30, 0.85 at 0.54.
    """
    wetness = (water_ratio / 0.206) ** (1.0 / 0.555)
    activity_ratio = wetness / (1.0 + wetness)
    return activity_ratio, activity_ratio * (1.0 - activity_ratio) / (0.555 * water_ratio)


def meat_diffusivity_m2_per_s(
    temperature_c: Value, *, exp: Callable[[Value], Value] = exp
) -> Value:
    """Effective diffusivity of water in a dry-sausage mass of 17 % fat.

    5.6e-11 m2/s at 12 degC: Palumbo et al., J. Food Sci. 42 (1977) 1029 (the temperature is from
    memory). Activation energy 25 kJ/mol, amid the 15.1-31.9 of Gomez et al., J. Food Eng. (2017).
    """
    return 5.6e-11 * exp(-25e3 / 8.314 * (1.0 / (temperature_c + 273.15) - 1.0 / 285.15))
