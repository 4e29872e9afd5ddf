"""Carrying every way the drying may go through the air, step by step."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hangroom.forecast.airing import Steps
from hangroom.forecast.particles import Floats, Particles
from hangroom.product.drying import Air, Drying, Maths, hung, step

MATHS = Maths(exp=np.exp, larger=np.maximum)
DRIEST_AIR_RATIO = 0.01
# So many steps pass between two looks at whether all have arrived.
ASKED_EVERY = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """Loss on the weight as hung, and water at the surface: a row for each edge."""

    edges_h: Floats
    loss_ratio: Floats
    surface_ratio: Floats

    @property
    def end(self) -> Drying:
        """Where it ends."""
        return Drying(
            loss_ratio=self.loss_ratio[-1].astype(float),
            surface_ratio=self.surface_ratio[-1].astype(float),
        )

    def loss_at(self, at_h: float) -> Floats:
        """Loss at a moment within, straight between edges."""
        if len(self.edges_h) == 1:
            return np.asarray(self.loss_ratio[0])
        after = int(np.clip(np.searchsorted(self.edges_h, at_h), 1, len(self.edges_h) - 1))
        before_h, after_h = self.edges_h[after - 1], self.edges_h[after]
        share = np.clip((at_h - before_h) / (after_h - before_h), 0.0, 1.0)
        return np.asarray(
            (1.0 - share) * self.loss_ratio[after - 1] + share * self.loss_ratio[after]
        )


def dried(
    particles: Particles,
    steps: Steps,
    *,
    start: Drying | None = None,
    columns: tuple[int, int],
    until: Callable[[Floats], bool] | None = None,
) -> Path:
    """Carry all through the steps; `until` is asked once in a while whether it may end.

    `columns`: which of the normal numbers say how far humidity and temperature were off.
    """
    off_humidity, off_temperature = (particles.normals[:, column] for column in columns)
    stick = particles.stick
    drying = hung(stick) if start is None else start
    hours = np.diff(steps.edges_h)
    shape = (len(hours) + 1, len(stick.radius_m))
    # Single precision is a thousandth of what a scale sees, and half the memory.
    losses, surfaces = np.empty(shape, np.float32), np.empty(shape, np.float32)
    losses[0], surfaces[0] = drying.loss_ratio, drying.surface_ratio
    edges = 1
    for number, over_h in enumerate(hours):
        temperature_c = float(steps.temperature_c[number])
        saturation_pa = float(steps.saturation_pa[number])
        humidity_ratio = float(steps.humidity_ratio[number]) + particles.bias_ratio
        unsure_ratio = float(steps.unsure_humidity_ratio[number])
        unsure_c = float(steps.unsure_temperature_c[number])
        air = Air(
            temperature_c=temperature_c,
            saturation_pa=saturation_pa,
            humidity_ratio=humidity_ratio,
        )
        if unsure_ratio > 0.0 or unsure_c > 0.0:
            off_c = unsure_c * off_temperature
            air = Air(
                temperature_c=temperature_c + off_c,
                saturation_pa=saturation_pa * np.exp(_ln_rise_per_k(temperature_c) * off_c),
                humidity_ratio=np.maximum(
                    humidity_ratio + unsure_ratio * off_humidity, DRIEST_AIR_RATIO
                ),
            )
        drying = step(stick, drying, air, float(over_h), MATHS)
        losses[edges], surfaces[edges] = drying.loss_ratio, drying.surface_ratio
        edges += 1
        if until is not None and number % ASKED_EVERY == 0 and until(drying.loss_ratio):
            break
    return Path(
        edges_h=steps.edges_h[:edges], loss_ratio=losses[:edges], surface_ratio=surfaces[:edges]
    )


def joined(before: Path, after: Path) -> Path:
    """Return two paths as one; the second begins where the first ends."""
    return Path(
        edges_h=np.concatenate([before.edges_h, after.edges_h[1:]]),
        loss_ratio=np.vstack([before.loss_ratio, after.loss_ratio[1:]]),
        surface_ratio=np.vstack([before.surface_ratio, after.surface_ratio[1:]]),
    )


def _ln_rise_per_k(temperature_c: float) -> float:
    """Slope of the logarithm of saturation pressure, of the same Magnus form as the pressure."""
    return 17.625 * 243.04 / (243.04 + temperature_c) ** 2
