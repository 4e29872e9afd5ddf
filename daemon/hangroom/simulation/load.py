"""What hangs in the room: a surface that gives off water to the air, and what lies behind it.

`Load` is all the room knows; any other model of a product can take the place of `Sticks`.

`Sticks` is a cylinder cut into shells of equal dry mass (the dry mass never moves, so that
shrinking is only a matter of recomputing radii). Water diffuses between shells, and evaporates
from the outermost one through a surface half a shell away from its middle::

    m_d dX_i/dt = K_(i-1) (X_(i-1) - X_i) - K_i (X_i - X_(i+1)),  K = 2 pi r L rho_d D / dr
    K_s (X_n - X_s) = E                                     at the surface
"""

from collections.abc import Callable, Mapping
from itertools import pairwise
from math import exp, pi, sqrt
from typing import Any, Protocol

from hangroom.simulation.spec import LoadSpec

# Heat capacity of meat, kJ/(kg K) about 3 (textbook, from memory).
HEAT_CAPACITY_J_PER_KG_K = 3000.0
# Drained fat-protein-salt solids and water; together 1062 kg/m3 at 55 % water.
SOLIDS_KG_PER_M3 = 1150.0
WATER_KG_PER_M3 = 1000.0
# Diffusion is stepped more slowly than the air: hours pass before a stick notices.
DIFFUSION_STEP_S = 60.0
SHELLS = 8
# Where no temperature has been told yet; good for the first half minute.
FIRST_GUESS_C = 12.0
# A dry surface cannot be drier than this, kg water per kg dry matter.
DRIEST_RATIO = 0.01

Isotherm = Callable[[float], tuple[float, float]]
"""Water content (kg/kg dry) to water activity and its slope."""

Diffusivity = Callable[[float], float]
"""Temperature (degC) to effective diffusivity of water (m2/s)."""


class Load(Protocol):
    """A product as the room's air meets it."""

    @property
    def heat_capacity_j_per_k(self) -> float:
        """Heat it holds per degree; the room keeps its temperature."""

    @property
    def surface_m2(self) -> float:
        """Surface that meets the air."""

    @property
    def water_kg(self) -> float:
        """All water in it."""

    @property
    def weight_kg(self) -> float:
        """What a scale would show."""

    @property
    def loss_ratio(self) -> float:
        """Weight lost since it was hung, as a share of the weight as hung."""

    def evaporation(
        self, *, film_m_per_s: float, saturation_kg_per_m3: float
    ) -> tuple[float, float]:
        """Conductance (m3/s) and water activity (ratio) that the air meets from now on.

        The room's air then takes `conductance * (activity * saturation - vapour density)` kg/s.
        """

    def give_off(self, water_kg: float, *, over_s: float, temperature_c: float) -> None:
        """Lose exactly that much water (gain it, if negative), evenly over that time."""

    def snapshot(self) -> dict[str, object]:
        """State as a JSON-able dict."""

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from such a dict."""


def meat_activity(water_ratio: float) -> tuple[float, float]:
    """Water activity of the stick and its slope, at kg water per kg dry matter.

    Oswin's equation, k 0.206, n 0.555, laid through two points: 0.965 at 1.30, 0.85 at 0.54.
    """
    wetness = (water_ratio / 0.206) ** (1.0 / 0.555)
    activity_ratio = wetness / (1.0 + wetness)
    return activity_ratio, activity_ratio * (1.0 - activity_ratio) / (0.555 * water_ratio)


def meat_diffusivity_m2_per_s(temperature_c: float) -> float:
    """Effective diffusivity of water in a dry-sausage mass of 17 % fat.

    5.6e-11 m2/s at 12 degC: Palumbo et al., J. Food Sci. 42 (1977) 1029 (the temperature is from
    memory). Activation energy 25 kJ/mol, amid the 15.1-31.9 of Gomez et al., J. Food Eng. (2017).
    """
    return 5.6e-11 * exp(-25e3 / 8.314 * (1.0 / (temperature_c + 273.15) - 1.0 / 285.15))


class Sticks:
    """Equal cylinders that all dry alike; a caller adds what sets single sticks apart.

    `shells`, `isotherm` and `diffusivity` can be exchanged, so that the model can be held against
    closed solutions. Length stays, diameter shrinks with the volume of the water lost.
    """

    def __init__(
        self,
        spec: LoadSpec,
        *,
        shells: int = SHELLS,
        isotherm: Isotherm = meat_activity,
        diffusivity: Diffusivity = meat_diffusivity_m2_per_s,
    ) -> None:
        self._isotherm = isotherm
        self._diffusivity = diffusivity
        self._dry_kg = spec.mass_kg * (1.0 - spec.water_fraction)
        self._shell_dry_kg = self._dry_kg / shells
        hung_ratio = spec.water_fraction / (1.0 - spec.water_fraction)
        self._water_ratios = [hung_ratio] * shells
        self._surface_ratio = hung_ratio
        self._hung_kg = spec.mass_kg
        self._waiting_s = 0.0
        radius_m = spec.diameter_mm / 2000.0
        volume_m3 = self._dry_kg * _volume_m3_per_kg_dry(hung_ratio)
        self._length_m = volume_m3 / (pi * radius_m**2)
        self._measure(FIRST_GUESS_C)

    @property
    def heat_capacity_j_per_k(self) -> float:
        """Kept as hung: only the load's thermal lag, about an hour, hangs on it."""
        return self._hung_kg * HEAT_CAPACITY_J_PER_KG_K

    @property
    def surface_m2(self) -> float:
        """Side of the cylinders, at their present diameter."""
        return 2.0 * pi * self._radius_m * self._length_m

    @property
    def diameter_mm(self) -> float:
        """Present diameter."""
        return 2000.0 * self._radius_m

    @property
    def water_kg(self) -> float:
        """All water in it."""
        return self._shell_dry_kg * sum(self._water_ratios)

    @property
    def weight_kg(self) -> float:
        """Dry matter and water."""
        return self._dry_kg + self.water_kg

    @property
    def loss_ratio(self) -> float:
        """Weight lost since hung, as a share of the weight as hung."""
        return 1.0 - self.weight_kg / self._hung_kg

    @property
    def mean_water_ratio(self) -> float:
        """Water, kg per kg dry matter, over the whole stick."""
        return sum(self._water_ratios) / len(self._water_ratios)

    @property
    def surface_water_ratio(self) -> float:
        """Water, kg per kg dry matter, at the very surface."""
        return self._surface_ratio

    @property
    def water_ratios(self) -> tuple[float, ...]:
        """Water of each shell, core first, kg per kg dry matter."""
        return tuple(self._water_ratios)

    def evaporation(
        self, *, film_m_per_s: float, saturation_kg_per_m3: float
    ) -> tuple[float, float]:
        """Conductance (m3/s) and activity (ratio) of the way from the outer shell into the air.

        The isotherm is taken along its tangent at the last surface water content, so that the
        surface answers at once to what evaporates: both resistances stand in one conductance.
        """
        activity_ratio, slope = self._isotherm(self._surface_ratio)
        film_m3_per_s = film_m_per_s * self.surface_m2
        feedback = film_m3_per_s * saturation_kg_per_m3 * slope / self._surface_kg_per_s
        behind = activity_ratio + slope * (self._water_ratios[-1] - self._surface_ratio)
        return film_m3_per_s / (1.0 + feedback), behind

    def give_off(self, water_kg: float, *, over_s: float, temperature_c: float) -> None:
        """Lose exactly that much water (gain it, if negative), evenly over that time."""
        self._water_ratios[-1] -= water_kg / self._shell_dry_kg
        self._surface_ratio = max(
            self._water_ratios[-1] - water_kg / (over_s * self._surface_kg_per_s), DRIEST_RATIO
        )
        self._waiting_s += over_s
        if self._waiting_s >= DIFFUSION_STEP_S:
            self._diffuse()
            self._measure(temperature_c)

    def snapshot(self) -> dict[str, object]:
        """State as a JSON-able dict."""
        return {
            "water_ratios": list(self._water_ratios),
            "surface_ratio": self._surface_ratio,
            "waiting_s": self._waiting_s,
            "measured_at_c": self._measured_at_c,
            "measured_ratios": list(self._measured_ratios),
        }

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from such a dict."""
        self._water_ratios = list(snapshot["measured_ratios"])
        self._measure(snapshot["measured_at_c"])
        self._water_ratios = list(snapshot["water_ratios"])
        self._surface_ratio = snapshot["surface_ratio"]
        self._waiting_s = snapshot["waiting_s"]

    def _diffuse(self) -> None:
        """Let water even out between shells; each flux leaves one shell and enters the next."""
        waters = self._water_ratios
        # A quarter of the fastest exchange keeps the explicit step from overshooting.
        steps = 1 + int(
            4.0 * self._waiting_s * max(self._conductances_kg_per_s) / self._shell_dry_kg
        )
        share_s_per_kg = self._waiting_s / steps / self._shell_dry_kg
        for _ in range(steps):
            inner = waters[0]
            incoming = 0.0
            for index, conductance_kg_per_s in enumerate(self._conductances_kg_per_s):
                outer = waters[index + 1]
                flow = share_s_per_kg * conductance_kg_per_s * (inner - outer)
                waters[index] = inner + incoming - flow
                incoming = flow
                inner = outer
            waters[-1] = inner + incoming
        self._waiting_s = 0.0

    def _measure(self, temperature_c: float) -> None:
        """Radii and conductances for the present water contents."""
        self._measured_at_c = temperature_c
        self._measured_ratios = tuple(self._water_ratios)
        diffusivity_m2_per_s = self._diffusivity(temperature_c)
        area_m2 = 0.0
        edges_m = [0.0]
        densities_kg_per_m3 = []
        for water_ratio in self._water_ratios:
            volume_m3 = self._shell_dry_kg * _volume_m3_per_kg_dry(water_ratio)
            area_m2 += volume_m3 / (pi * self._length_m)
            edges_m.append(sqrt(area_m2))
            densities_kg_per_m3.append(self._shell_dry_kg / volume_m3)
        middles_m = [(inner + outer) / 2.0 for inner, outer in pairwise(edges_m)]
        around_m2_per_s = 2.0 * pi * self._length_m * diffusivity_m2_per_s
        self._conductances_kg_per_s = [
            around_m2_per_s
            * edges_m[i + 1]
            * (densities_kg_per_m3[i] + densities_kg_per_m3[i + 1])
            / (2.0 * (middles_m[i + 1] - middles_m[i]))
            for i in range(len(middles_m) - 1)
        ]
        self._radius_m = edges_m[-1]
        self._surface_kg_per_s = (
            around_m2_per_s
            * self._radius_m
            * densities_kg_per_m3[-1]
            / (self._radius_m - middles_m[-1])
        )


def _volume_m3_per_kg_dry(water_ratio: float) -> float:
    return 1.0 / SOLIDS_KG_PER_M3 + water_ratio / WATER_KG_PER_M3
