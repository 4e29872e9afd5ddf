"""Sticks dried in air that is told, without a room around them.

This is how a forecaster is judged: the air of a hang is made up, the sticks dry in it, and the
forecaster sees what sensors and scales would have shown.
"""

from collections.abc import Callable
from math import exp

from hangroom.simulation.load import Sticks
from hangroom.simulation.meat import Value
from hangroom.simulation.parts import AIR_J_PER_M3_K, EVAPORATION_J_PER_KG
from hangroom.simulation.vapour import saturation_kg_per_m3

# Heat and vapour pass a film of air alike but for this (Lewis number of vapour in air; textbook,
# from memory). Vapour takes the moving air's part of the heat only.
FILM_RATIO = 0.9
# Heat radiated between a stick and walls, at room temperature (textbook, from memory).
RADIATION_W_PER_M2_K = 4.0


def dry(
    sticks: Sticks,
    *,
    over_s: float,
    temperature_c: Value,
    humidity_pct: Value,
    heat_w_per_m2_k: Value,
    exp: Callable[[Value], Value] = exp,
) -> Value:
    """Dry for a moment, and return what the sticks gave off to the air, kg.

    `heat_w_per_m2_k`: of the moving air, without radiation. The surface is as much cooler than
    the air as its evaporation takes heat; along the tangent of the saturation curve that is one
    more resistance::

        E = g (a rho_sat - rho_v) / (1 + g a L rho_sat' / (A (h + h_r)))
    """
    saturation = saturation_kg_per_m3(temperature_c, exp=exp)
    slope_per_k = saturation_kg_per_m3(temperature_c + 0.5, exp=exp) - saturation_kg_per_m3(
        temperature_c - 0.5, exp=exp
    )
    conductance_m3_per_s, activity_ratio = sticks.evaporation(
        film_m_per_s=FILM_RATIO * heat_w_per_m2_k / AIR_J_PER_M3_K,
        saturation_kg_per_m3=saturation,
    )
    warming_w_per_k = sticks.surface_m2 * (heat_w_per_m2_k + RADIATION_W_PER_M2_K)
    chill = EVAPORATION_J_PER_KG * conductance_m3_per_s * slope_per_k / warming_w_per_k
    flow_kg_per_s = (
        conductance_m3_per_s
        * saturation
        * (activity_ratio - humidity_pct / 100.0)
        / (1.0 + chill * activity_ratio)
    )
    colder_k = EVAPORATION_J_PER_KG * flow_kg_per_s / warming_w_per_k
    given_kg = flow_kg_per_s * over_s
    sticks.give_off(given_kg, over_s=over_s, temperature_c=temperature_c - colder_k)
    return given_kg
