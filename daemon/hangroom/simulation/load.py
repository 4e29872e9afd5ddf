"""What hangs in the room: a surface that gives off water to the air, and what lies behind it.

`Load` is all the room knows; any other model of a product can take the place of `Sticks`.

`Sticks` is a cylinder of shells between which water diffuses (see `shells`). It evaporates from
the outermost one through a surface half a shell away from its middle, then through the casing and
the film of air, one behind the other::

    K_s (X_n - X_s) = E = A (a(X_s) rho_sat - rho_v) / (1 / g_casing + 1 / g_film)
"""

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from hangroom.simulation.casing import Casing
from hangroom.simulation.meat import (
    Diffusivity,
    Isotherm,
    Slowing,
    Value,
    meat_activity,
    meat_diffusivity_m2_per_s,
)
from hangroom.simulation.shells import Shells
from hangroom.simulation.spec import LoadSpec

# Heat capacity of meat, kJ/(kg K) about 3 (textbook, from memory).
HEAT_CAPACITY_J_PER_KG_K = 3000.0
# Diffusion is stepped more slowly than the air: hours pass before a stick notices.
DIFFUSION_STEP_S = 60.0
SHELLS = 8
# Where no temperature has been told yet; good for the first half minute.
FIRST_GUESS_C = 12.0
# A dry surface cannot be drier than this, kg water per kg dry matter.
DRIEST_RATIO = 0.01


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


class Hung(Protocol):
    """Sticks as they are hung: each figure a float, or an array with one for each stick."""

    @property
    def mass_kg(self) -> Value:
        """Weight."""

    @property
    def diameter_mm(self) -> Value:
        """Diameter."""

    @property
    def water_fraction(self) -> Value:
        """Water's share of the weight."""


class Sticks:
    """Equal cylinders that all dry alike, or an array of them where `hung` holds arrays.

    Everything about the meat can be exchanged, so that the model can be held against closed
    solutions. `casing` None: one that hinders nothing. `exposed_share`: how much of the side
    meets the air, the rest lying against something. `largest`: of a list of floats or arrays.
    """

    def __init__(
        self,
        hung: Hung,
        *,
        shells: int = SHELLS,
        isotherm: Isotherm = meat_activity,
        diffusivity: Diffusivity = meat_diffusivity_m2_per_s,
        slowing: Slowing | None = None,
        casing: Casing | None = None,
        exposed_share: Value = 1.0,
        largest: Callable[[list[Value]], float] = max,
    ) -> None:
        self._isotherm = isotherm
        self._casing = casing
        self._exposed_share = exposed_share
        self._largest = largest
        hung_ratio = hung.water_fraction / (1.0 - hung.water_fraction)
        self._surface_ratio = hung_ratio
        self._hung_kg = hung.mass_kg
        self._waiting_s = 0.0
        self._shells = Shells(
            dry_kg=hung.mass_kg * (1.0 - hung.water_fraction),
            water_ratio=hung_ratio,
            radius_m=hung.diameter_mm / 2000.0,
            shells=shells,
            diffusivity=diffusivity,
            slowing=slowing,
            temperature_c=FIRST_GUESS_C,
        )

    @property
    def heat_capacity_j_per_k(self) -> Value:
        """Kept as hung: only the load's thermal lag, about an hour, hangs on it."""
        return self._hung_kg * HEAT_CAPACITY_J_PER_KG_K

    @property
    def surface_m2(self) -> Value:
        """Side of the cylinders that meets the air, at their present diameter."""
        return self._exposed_share * self._shells.side_m2

    @property
    def diameter_mm(self) -> Value:
        """Present diameter."""
        return 2000.0 * self._shells.radius_m

    @property
    def water_kg(self) -> Value:
        """All water in it."""
        return self._shells.water_kg

    @property
    def weight_kg(self) -> Value:
        """Dry matter and water."""
        return self._shells.dry_kg + self.water_kg

    @property
    def loss_ratio(self) -> Value:
        """Weight lost since hung, as a share of the weight as hung."""
        return 1.0 - self.weight_kg / self._hung_kg

    @property
    def mean_water_ratio(self) -> Value:
        """Water, kg per kg dry matter, over the whole stick."""
        return sum(self.water_ratios) / len(self.water_ratios)

    @property
    def surface_water_ratio(self) -> Value:
        """Water, kg per kg dry matter, at the very surface."""
        return self._surface_ratio

    @property
    def water_ratios(self) -> tuple[Value, ...]:
        """Water of each shell, core first, kg per kg dry matter."""
        return tuple(self._shells.water_ratios)

    def evaporation(
        self, *, film_m_per_s: Value, saturation_kg_per_m3: Value
    ) -> tuple[Value, Value]:
        """Conductance (m3/s) and activity (ratio) of the way from the outer shell into the air.

        The isotherm is taken along its tangent at the last surface water content, so that the
        surface answers at once to what evaporates: all resistances stand in one conductance.
        """
        activity_ratio, slope = self._isotherm(self._surface_ratio)
        way_m_per_s = film_m_per_s
        if self._casing is not None:
            casing_m_per_s = self._casing.conductance_m_per_s(
                activity_ratio, temperature_c=self._shells.measured_at_c
            )
            way_m_per_s = 1.0 / (1.0 / film_m_per_s + 1.0 / casing_m_per_s)
        way_m3_per_s = way_m_per_s * self.surface_m2
        feedback = way_m3_per_s * saturation_kg_per_m3 * slope / self._shells.surface_kg_per_s
        behind = activity_ratio + slope * (self._shells.water_ratios[-1] - self._surface_ratio)
        return way_m3_per_s / (1.0 + feedback), behind

    def give_off(self, water_kg: Value, *, over_s: float, temperature_c: Value) -> None:
        """Lose exactly that much water (gain it, if negative), evenly over that time."""
        waters = self._shells.water_ratios
        waters[-1] = waters[-1] - water_kg / self._shells.shell_dry_kg
        surface_ratio = waters[-1] - water_kg / (over_s * self._shells.surface_kg_per_s)
        # The larger of the two, said so that it holds for arrays as well.
        self._surface_ratio = (
            surface_ratio + DRIEST_RATIO + abs(surface_ratio - DRIEST_RATIO)
        ) / 2.0
        self._waiting_s += over_s
        if self._waiting_s >= DIFFUSION_STEP_S:
            # A quarter of the fastest exchange keeps the explicit step from overshooting.
            quickest_per_s = self._largest(self._shells.quickest_per_s())
            steps = 1 + int(4.0 * self._waiting_s * quickest_per_s)
            self._shells.even_out(self._waiting_s, steps=steps)
            self._shells.measure(temperature_c)
            self._waiting_s = 0.0

    def snapshot(self) -> dict[str, object]:
        """State as a JSON-able dict."""
        return {
            "water_ratios": list(self._shells.water_ratios),
            "surface_ratio": self._surface_ratio,
            "waiting_s": self._waiting_s,
            "measured_at_c": self._shells.measured_at_c,
            "measured_ratios": list(self._shells.measured_ratios),
        }

    def restore(self, snapshot: Mapping[str, Any]) -> None:
        """Go on from such a dict."""
        self._shells.water_ratios = list(snapshot["measured_ratios"])
        self._shells.measure(snapshot["measured_at_c"])
        self._shells.water_ratios = list(snapshot["water_ratios"])
        self._surface_ratio = snapshot["surface_ratio"]
        self._waiting_s = snapshot["waiting_s"]


def hung_sticks(spec: LoadSpec) -> Sticks:
    """Return the sticks of a room, in their casing."""
    permeance = spec.casing_kg_per_m2_s_pa
    casing = None if permeance is None else Casing(permeance_kg_per_m2_s_pa=permeance)
    return Sticks(spec, casing=casing)
