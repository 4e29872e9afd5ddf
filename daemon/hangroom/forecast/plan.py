"""The humidity that brings groups to their targets when they are wanted, tried on all their ways.

What was learned from the weights is worked out once for each group; only what is to come is dried
anew under every plan that is tried.
"""

from collections.abc import Sequence

import numpy as np

from hangroom.air import saturation_pressure_fast_pa
from hangroom.forecast.forecaster import answered, learned_from
from hangroom.forecast.learning import Learned
from hangroom.forecast.particles import Floats
from hangroom.product.drying import Stick
from hangroom.product.drying_lights import GREEN_FROM_RATIO
from hangroom.product.forecast import AirPlanned, Forecast, Question
from hangroom.product.gentle_floors import drying_at, gentle_floors
from hangroom.product.humidity_plan import GroupWanted, HumidityPlan, SetpointLimits
from hangroom.product.humidity_planning import plan_humidity
from hangroom.product.planned_air import temperature_at_c
from hangroom.product.sorption import Quantity

# Beyond these days the last setpoint stays.
DAYS = 21
# Enough for the middle of a forecast, which is all that the search goes by.
PARTICLES = 512


def plan(
    question: Question,
    *,
    wanted_h: float | None = None,
    lowest_pct: float,
    highest_pct: float,
    group: str = "the group",
    particles: int = PARTICLES,
    seed: int = 1,
) -> HumidityPlan:
    """Plan one group's humidity; `wanted_h` None: as soon as it can be while it dries gently.

    Raises InputError for a moment that is past, limits that leave nothing, or a question that the
    forecast refuses.
    """
    return plan_room(
        [GroupWanted(group=group, question=question, wanted_h=wanted_h)],
        SetpointLimits(lowest_pct=lowest_pct, highest_pct=highest_pct),
        particles=particles,
        seed=seed,
    )


def plan_room(
    groups: Sequence[GroupWanted],
    limits: SetpointLimits,
    *,
    least_ratio: float = GREEN_FROM_RATIO,
    particles: int = PARTICLES,
    seed: int = 1,
) -> HumidityPlan:
    """Plan one room's humidity for all groups in it, which must have different names."""
    learned = {
        each.group: learned_from(each.question, particles=particles, seed=seed) for each in groups
    }

    def ask(wanted: GroupWanted, air: tuple[AirPlanned, ...]) -> Forecast:
        return answered(learned[wanted.group], air)

    def floors_of(
        wanted: GroupWanted, now: Forecast, limits: SetpointLimits, least_ratio: float
    ) -> tuple[float, ...]:
        return _floors(learned[wanted.group], now, limits, least_ratio)

    return plan_humidity(
        groups, limits=limits, ask=ask, floors_of=floors_of, least_ratio=least_ratio
    )


def _floors(
    learned: Learned, now: Forecast, limits: SetpointLimits, least_ratio: float
) -> tuple[float, ...]:
    """Return each day's driest gentle humidity for the middle of all ways, %RH of the sensor."""
    question, weights_ratio = learned.question, learned.weights_ratio
    stick = _middle_stick(learned.particles.stick, weights_ratio)
    loss_ratio = float(weights_ratio @ learned.path.loss_ratio[-1])
    temperature_c = temperature_at_c(question, question.now_h)
    bias_pct = 100.0 * float(weights_ratio @ learned.particles.bias_ratio)
    floors = gentle_floors(
        stick,
        drying_at(stick, loss_ratio, now.surface_to_core_ratio),
        temperature_c=temperature_c,
        saturation_pa=saturation_pressure_fast_pa(temperature_c),
        least_ratio=min(least_ratio, now.surface_to_core_ratio),
        target_loss_ratio=1.0 - question.target_yield_ratio / now.hung_ratio,
        lowest_pct=limits.lowest_pct + bias_pct,
        highest_pct=limits.highest_pct + bias_pct,
        days=DAYS,
    )
    return tuple(floor_pct - bias_pct for floor_pct in floors)


def _middle_stick(stick: Stick, weights_ratio: Floats) -> Stick:
    """Return the weighted geometric mean of all sticks."""

    def middle(values: Floats) -> Quantity:
        return float(np.exp(weights_ratio @ np.log(values)))

    return Stick(
        transfer_kg_per_m2_s_pa=middle(stick.transfer_kg_per_m2_s_pa),
        diffusivity_m2_per_s=middle(stick.diffusivity_m2_per_s),
        activation_kj_per_mol=float(weights_ratio @ stick.activation_kj_per_mol),
        strength=middle(stick.strength),
        steepness=middle(stick.steepness),
        water_ratio=middle(stick.water_ratio),
        radius_m=middle(stick.radius_m),
    )
