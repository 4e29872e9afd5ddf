"""The truth's sticks: twelve of each batch, no two alike, hung in rooms of their own.

Diffusivity about 5.7e-11 m2/s at 12 degC (Palumbo et al. 1977, pepperoni; temperature from
memory) within the spread of ham and biltong; casing and film about what `hangroom.simulation`
takes; sticks of one batch apart by 8 % in rate (between bundles of one amateur batch: 6 % of the
loss). All other ranges are invented.
"""

from dataclasses import dataclass

import numpy as np
from bench.drying_truth.meat import Floats, Meat
from bench.drying_truth.regimes import Range
from bench.drying_truth.rooms import STEP_S, Rooms

from hangroom.simulation.casing import Casing
from hangroom.simulation.load import Sticks
from hangroom.simulation.meat import Value
from hangroom.simulation.offline import dry

STICKS = 12
SHELLS = 18


@dataclass(frozen=True, kw_only=True)
class Batches:
    """By batch (first axis) and stick (second, of length one where all are alike)."""

    mass_kg: Floats
    diameter_mm: Floats
    water_fraction: Floats
    green_kg: Floats
    meat: Meat
    at_12c_m2_per_s: Floats
    activation_j_per_mol: Floats
    permeance: Floats
    dry_share: Floats
    exposed_share: Floats
    place_humidity_pct: Floats
    place_temperature_k: Floats

    @property
    def count(self) -> int:
        """How many batches."""
        return len(self.mass_kg)

    def hang(self) -> Sticks:
        """Hang all sticks of all batches."""
        return Sticks(
            self,
            shells=SHELLS,
            isotherm=self.meat.activity,
            diffusivity=self._diffusivity_m2_per_s,
            slowing=self.meat.slowing,
            casing=Casing(permeance_kg_per_m2_s_pa=self.permeance, dry_share=self.dry_share),
            exposed_share=self.exposed_share,
            largest=lambda ways: max(float(np.max(way)) for way in ways),
        )

    def dry(self, sticks: Sticks, rooms: Rooms, *, step: int, air: tuple[Floats, Floats]) -> None:
        """Dry by one step in each batch's true air."""
        true_c, true_pct = air
        dry(
            sticks,
            over_s=STEP_S,
            temperature_c=true_c[:, None] + self.place_temperature_k,
            humidity_pct=true_pct[:, None] + self.place_humidity_pct,
            heat_w_per_m2_k=rooms.film_w_per_m2_k[step][:, None],
            exp=np.exp,
        )

    def _diffusivity_m2_per_s(self, temperature_c: Value) -> Value:
        warmth = 1.0 / (temperature_c + 273.15) - 1.0 / 285.15
        return self.at_12c_m2_per_s * np.exp(-self.activation_j_per_mol / 8.314 * warmth)


def made_batches(rng: np.random.Generator, count: int) -> Batches:
    """Draw so many batches."""
    of_batch, of_stick = (count, 1), (count, STICKS)

    def drawn(between: Range) -> Floats:
        return rng.uniform(*between, of_batch)

    hung_ratio = drawn((1.0, 1.5))
    diameter_mm = drawn((16.0, 23.0)) * np.exp(rng.normal(0.0, 0.015, of_stick))
    length_m = drawn((0.22, 0.30)) * np.exp(rng.normal(0.0, 0.03, of_stick))
    volume_m3 = np.pi * (diameter_mm / 2000.0) ** 2 * length_m
    mass_kg = volume_m3 * (1.0 + hung_ratio) / (1.0 / 1150.0 + hung_ratio / 1000.0)
    # Some sticks lie against a neighbour or the rail.
    touching = rng.uniform(size=of_stick) < 0.15
    own_rate = np.exp(rng.normal(0.0, 0.08, of_stick))
    meat = Meat(
        salt_ratio=drawn((0.045, 0.075)),
        protein_strength=drawn((0.02, 0.045)),
        protein_steepness=drawn((0.9, 1.3)),
        fading=drawn((0.0, 0.4)),
        hung_ratio=hung_ratio,
    )
    return Batches(
        mass_kg=mass_kg,
        diameter_mm=diameter_mm,
        water_fraction=np.broadcast_to(hung_ratio / (1.0 + hung_ratio), of_stick),
        green_kg=mass_kg / (drawn((0.82, 0.93)) + rng.normal(0.0, 0.006, of_stick)),
        meat=meat,
        at_12c_m2_per_s=5.7e-11 * np.exp(rng.normal(0.0, 0.35, of_batch)),
        activation_j_per_mol=np.clip(rng.normal(25e3, 4e3, of_batch), 15e3, 32e3),
        permeance=2.0e-8 * np.exp(rng.normal(0.0, 0.4, of_batch)) * own_rate,
        dry_share=drawn((0.3, 1.0)),
        exposed_share=np.where(touching, rng.uniform(0.7, 0.95, of_stick), 1.0),
        place_humidity_pct=rng.normal(0.0, 1.0, of_stick),
        place_temperature_k=rng.normal(0.0, 0.2, of_stick),
    )
