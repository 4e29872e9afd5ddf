"""How a stick dries on the rail: water meets two resistances, one in the meat, one at its skin.

A reduced model, quick enough for a thousand ways the drying may go on a Raspberry Pi. Outside stand
casing and air film (`transfer`), inside a layer through which water diffuses to the surface. That
layer grows as a front moves in (a half-space's at first) and ends at a quarter of the radius, the
linear driving force of a cylinder::

    E      = (X0 - X) / (X0 - Xs)                   share lost of what the present surface asks for
    delta  = R0 / sqrt(1 / (pi E / 4 + 0.01)^2 + 16)
    J      = ps (aw(Xs) - H) / (1 / k_e)   outside  = rho_d D (X - Xs) / (delta q)     inside
    dL/dt  = 2 q J / (R0 rho0)

`aw` is taken along its tangent between mean and surface, so that the surface answers at once. X is
kg of water per kg of all dry matter, L the share of the weight as hung that is gone. Against the
exact series for a cylinder with surface resistance (Crank, The Mathematics of Diffusion, 2nd ed.
1975, ch. 5) the share lost is within 0.004 at a Biot number of 0.5, 0.017 at 2, 0.049 at 10; sticks
have 0.2 to 0.4. Everything here takes floats or arrays alike.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, pi

from hangroom.product.geometry import FRESH_DENSITY_KG_PER_M3, WATER_DENSITY_KG_PER_M3
from hangroom.product.sorption import Exp, Quantity, water_activity

GAS_CONSTANT_KJ_PER_MOL_K = 8.314462e-3
KELVIN_AT_0_C = 273.15
# Diffusivities are named at 12 degC, where Palumbo et al. 1977 dried pepperoni.
NAMED_AT_C = 12.0

# So thin a layer lies at the surface when the drying begins, as a share of the radius over
# (pi E / 4): without it the first step would meet no resistance in the meat at all.
FIRST_LAYER_RATIO = 0.01
# Drier than this, in kg/kg, no stick gets in room air; it keeps powers of it finite.
DRIEST_RATIO = 0.02
# What is left of the volume can be no less than the dry matter's own.
LEAST_VOLUME_RATIO = 0.1
# One gram of water lost takes this share of the volume as hung with it, per share of weight.
VOLUME_PER_LOSS_RATIO = FRESH_DENSITY_KG_PER_M3 / WATER_DENSITY_KG_PER_M3

# While the layer grows fastest, steps are shorter: until so many hours, such a part of a later one.
OPENING_STEPS = ((3.0, 0.25), (12.0, 0.5))

Activity = Callable[[Quantity, Quantity, Quantity, Exp], tuple[Quantity, Quantity]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Maths:
    """What floats and arrays do by different functions: e^x, and the larger of two."""

    exp: Exp
    larger: Callable[[Quantity, Quantity], Quantity]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stick:
    """What a group's sticks are like as hung.

    `transfer_kg_per_m2_s_pa`: through casing and air film, k_e. `diffusivity_m2_per_s`: of water in
    the meat at 12 degC. `strength`, `steepness`: A and r of the isotherm. `water_ratio`: kg/kg dry
    matter. `meat_fading_ratio`, `casing_closing_ratio`: by how much of itself the resistance in the
    meat, or through casing and film, has grown where half the water is gone: resistance x
    (1 + f (X0 / X - 1)). `volume_per_loss_ratio`: 0 for a stick that does not shrink.
    """

    transfer_kg_per_m2_s_pa: Quantity
    diffusivity_m2_per_s: Quantity
    activation_kj_per_mol: Quantity
    strength: Quantity
    steepness: Quantity
    water_ratio: Quantity
    radius_m: Quantity
    meat_fading_ratio: Quantity = 0.0
    casing_closing_ratio: Quantity = 0.0
    volume_per_loss_ratio: float = VOLUME_PER_LOSS_RATIO


@dataclass(frozen=True, slots=True, kw_only=True)
class Air:
    """Air over one step: its temperature, saturation pressure, and humidity as a ratio."""

    temperature_c: Quantity
    saturation_pa: Quantity
    humidity_ratio: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Drying:
    """How far a stick is: share of the weight as hung that is gone, and water at its surface."""

    loss_ratio: Quantity
    surface_ratio: Quantity


def edges_h(to_h: float, step_h: float) -> list[float]:
    """Return the moments to step between, from hanging on, hours; the last is `to_h`."""
    edges, from_h = [0.0], 0.0
    for until_h, part in (*OPENING_STEPS, (to_h, 1.0)):
        ends_h = min(until_h, to_h)
        steps = max(ceil((ends_h - from_h) / (part * step_h) - 1e-9), 0)
        edges += [from_h + (ends_h - from_h) * number / steps for number in range(1, steps + 1)]
        from_h = max(from_h, ends_h)
    return edges


def hung(stick: Stick) -> Drying:
    """Return a stick at the moment it is hung: as wet outside as within."""
    return Drying(loss_ratio=0.0 * stick.water_ratio, surface_ratio=stick.water_ratio)


def mean_water_ratio(stick: Stick, loss_ratio: Quantity) -> Quantity:
    """Water of the whole stick in kg/kg dry matter, after a loss of water only."""
    return stick.water_ratio - loss_ratio * (1.0 + stick.water_ratio)


def core_water_ratio(stick: Stick, drying: Drying, maths: Maths) -> Quantity:
    """Water in the middle, kg/kg: as hung until the front is there, then a parabola's middle.

    A parabola across a cylinder has its mean halfway between its middle and its edge.
    """
    across = 2.0 * mean_water_ratio(stick, drying.loss_ratio) - drying.surface_ratio
    # The smaller of the two; a surface that takes up water makes the middle the driest place.
    return -maths.larger(-across, -stick.water_ratio)


def step(
    stick: Stick,
    drying: Drying,
    air: Air,
    over_h: float,
    maths: Maths,
    *,
    activity: Activity = water_activity,
) -> Drying:
    """Return the stick after some hours in one air.

    The step is implicit in the loss (an exponential step, its factor as a Pade quotient), so that
    no step, however long, runs past what the air can take.
    """
    fresh, surface = stick.water_ratio, drying.surface_ratio
    per_loss = 1.0 + fresh
    mean = maths.larger(fresh - drying.loss_ratio * per_loss, DRIEST_RATIO)
    volume = maths.larger(1.0 - stick.volume_per_loss_ratio * drying.loss_ratio, LEAST_VOLUME_RATIO)
    around = volume**0.5  # the length stays, as hanging sticks' does; diameter as geometry.shrunk
    fallen = fresh - surface
    # (X0 - X) / (X0 - Xs), and 0 where nothing has dried yet.
    share = maths.larger((fresh - mean) * fallen / (fallen * fallen + 1e-12), 0.0)
    front = pi / 4.0 * share + FIRST_LAYER_RATIO
    layer_m = stick.radius_m * front / (1.0 + 16.0 * front * front) ** 0.5
    kelvin_k = air.temperature_c + KELVIN_AT_0_C
    diffusivity_m2_per_s = stick.diffusivity_m2_per_s * maths.exp(
        stick.activation_kj_per_mol
        * ((1.0 / (NAMED_AT_C + KELVIN_AT_0_C) - 1.0 / kelvin_k) / GAS_CONSTANT_KJ_PER_MOL_K)
    )
    dry_kg_per_m3 = FRESH_DENSITY_KG_PER_M3 / (per_loss * volume)
    # Along the tangent halfway between the mean and the last surface: near enough to the curve for
    # both ends, and never flat, as a tangent at a dry surface may be.
    halfway = 0.5 * (mean + surface)
    halfway_aw, slope = activity(halfway, stick.strength, stick.steepness, maths.exp)
    within_m2_s_per_kg = (layer_m * around / (dry_kg_per_m3 * diffusivity_m2_per_s)) * (
        1.0 + stick.meat_fading_ratio * (fresh / halfway - 1.0)
    )
    through_m2_s_pa_per_kg = (
        1.0 + stick.casing_closing_ratio * (fresh / surface - 1.0)
    ) / stick.transfer_kg_per_m2_s_pa
    pull_pa = air.saturation_pa * slope
    conductance = 1.0 / (through_m2_s_pa_per_kg + pull_pa * within_m2_s_per_kg)
    pushed_pa = air.saturation_pa * (halfway_aw - air.humidity_ratio) + pull_pa * (mean - halfway)
    loss_per_flux = 2.0 * 3600.0 * over_h / (FRESH_DENSITY_KG_PER_M3 * stick.radius_m) * around
    eased = loss_per_flux * conductance * pull_pa * per_loss
    flux = conductance * pushed_pa / (1.0 + eased * (0.5 + eased / 12.0))
    mean = maths.larger(fresh - (drying.loss_ratio + loss_per_flux * flux) * per_loss, DRIEST_RATIO)
    return Drying(
        loss_ratio=(fresh - mean) / per_loss,
        surface_ratio=maths.larger(mean - flux * within_m2_s_per_kg, DRIEST_RATIO),
    )
