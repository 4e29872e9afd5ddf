"""A cylinder cut into shells of equal dry mass, between which water diffuses.

The dry mass never moves, so shrinking is only a matter of recomputing radii; length stays::

    m_d dX_i/dt = K_(i-1) (X_(i-1) - X_i) - K_i (X_i - X_(i+1)),  K = 2 pi r L rho_d D / dr

Shell by shell the figures are floats, or arrays with one entry for each of many cylinders.
"""

from itertools import pairwise
from math import pi

from hangroom.simulation.meat import Diffusivity, Slowing, Value

# Drained fat-protein-salt solids and water; together 1062 kg/m3 at 55 % water.
SOLIDS_KG_PER_M3 = 1150.0
WATER_KG_PER_M3 = 1000.0


class Shells:
    """Water contents from the core outward (`water_ratios`, kg/kg dry) and the ways between."""

    def __init__(
        self,
        *,
        dry_kg: Value,
        water_ratio: Value,
        radius_m: Value,
        shells: int,
        diffusivity: Diffusivity,
        slowing: Slowing | None,
        temperature_c: Value,
    ) -> None:
        self.dry_kg = dry_kg
        self.shell_dry_kg = dry_kg / shells
        self.water_ratios = [water_ratio] * shells
        self._length_m = dry_kg * _volume_m3_per_kg_dry(water_ratio) / (pi * radius_m**2)
        self._diffusivity = diffusivity
        self._slowing = slowing
        self.measure(temperature_c)

    @property
    def side_m2(self) -> Value:
        """Side of the cylinder, at its present radius."""
        return 2.0 * pi * self.radius_m * self._length_m

    @property
    def water_kg(self) -> Value:
        """All water in it."""
        return self.shell_dry_kg * sum(self.water_ratios)

    def quickest_per_s(self) -> list[Value]:
        """Exchange over each way, as a share of a shell's dry mass per second."""
        return [way / self.shell_dry_kg for way in self._ways_kg_per_s]

    def even_out(self, over_s: float, *, steps: int) -> None:
        """Let water even out between shells; each flux leaves one shell and enters the next."""
        waters = self.water_ratios
        share_s_per_kg = over_s / steps / self.shell_dry_kg
        for _ in range(steps):
            inner = waters[0]
            incoming = 0.0
            for index, way_kg_per_s in enumerate(self._ways_kg_per_s):
                outer = waters[index + 1]
                flow = share_s_per_kg * way_kg_per_s * (inner - outer)
                waters[index] = inner + incoming - flow
                incoming = flow
                inner = outer
            waters[-1] = inner + incoming

    def measure(self, temperature_c: Value) -> None:
        """Radii and conductances for the present water contents."""
        self.measured_at_c = temperature_c
        self.measured_ratios = tuple(self.water_ratios)
        diffusivity_m2_per_s = self._diffusivity(temperature_c)
        area_m2: Value = 0.0
        edges_m: list[Value] = [0.0]
        moving = []  # dry density times the share of diffusivity left, kg/m3
        slowing = self._slowing
        for water_ratio in self.water_ratios:
            volume_m3 = self.shell_dry_kg * _volume_m3_per_kg_dry(water_ratio)
            area_m2 = area_m2 + volume_m3 / (pi * self._length_m)
            edges_m.append(area_m2**0.5)
            density_kg_per_m3 = self.shell_dry_kg / volume_m3
            moving.append(
                density_kg_per_m3 if slowing is None else density_kg_per_m3 * slowing(water_ratio)
            )
        middles_m = [(inner + outer) / 2.0 for inner, outer in pairwise(edges_m)]
        around_m2_per_s = 2.0 * pi * self._length_m * diffusivity_m2_per_s
        self._ways_kg_per_s = [
            around_m2_per_s
            * edges_m[i + 1]
            * (moving[i] + moving[i + 1])
            / (2.0 * (middles_m[i + 1] - middles_m[i]))
            for i in range(len(middles_m) - 1)
        ]
        self.radius_m = edges_m[-1]
        self.surface_kg_per_s = (
            around_m2_per_s * self.radius_m * moving[-1] / (self.radius_m - middles_m[-1])
        )


def _volume_m3_per_kg_dry(water_ratio: Value) -> Value:
    return 1.0 / SOLIDS_KG_PER_M3 + water_ratio / WATER_KG_PER_M3
