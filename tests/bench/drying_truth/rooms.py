"""The truth's air: what a room does around its setpoints, and what its sensor says of it.

Everything the forecaster is not told stands here: the sensor is off, the start is humid, fans and
compressors cycle, doors open, days come and go, and the room holds its setpoint not quite.
"""

from dataclasses import dataclass

import numpy as np
from bench.drying_truth.meat import Floats
from bench.drying_truth.regimes import Range, Regime

STEP_S = 120.0
STEPS_PER_H = 30
SENT_EVERY_STEPS = 15
DRIEST_PCT, MOISTEST_PCT = 25.0, 97.0


@dataclass(frozen=True, kw_only=True)
class Rooms:
    """Deviations from the setpoints and films, by step and batch; offsets by batch.

    `off_*`: how far the sensor's mean lies from the setpoint. `bias_*`: sensor less truth.
    """

    temperature_k: Floats
    humidity_pct: Floats
    film_w_per_m2_k: Floats
    off_temperature_k: Floats
    off_humidity_pct: Floats
    bias_temperature_k: Floats
    bias_humidity_pct: Floats
    noise_pct: Floats

    def true_air(
        self, steps: slice, temperature_c: Floats, humidity_pct: Floats
    ) -> tuple[Floats, Floats]:
        """Return true temperature and humidity around setpoints, by step and batch."""
        true_c = temperature_c + self.off_temperature_k - self.bias_temperature_k
        true_pct = humidity_pct + self.off_humidity_pct - self.bias_humidity_pct
        return true_c + self.temperature_k[steps], np.clip(
            true_pct + self.humidity_pct[steps], DRIEST_PCT, MOISTEST_PCT
        )

    def sent(self, steps: slice, true_c: Floats, true_pct: Floats) -> tuple[Floats, Floats]:
        """Return what the sensor said, as means over half an hour, to a tenth."""
        shape = (-1, SENT_EVERY_STEPS, true_c.shape[1])
        said_c = true_c.reshape(shape).mean(axis=1) + self.bias_temperature_k
        noise = self.noise_pct[steps.start // SENT_EVERY_STEPS :][: len(said_c)]
        said_pct = true_pct.reshape(shape).mean(axis=1) + self.bias_humidity_pct + noise
        return np.round(said_c, 1), np.round(np.clip(said_pct, 1.0, 99.9), 1)


def made_rooms(rng: np.random.Generator, regime: Regime, *, batches: int, hours: float) -> Rooms:
    """Draw rooms for so many batches and hours."""
    steps = round(hours * STEPS_PER_H)
    at_h = (np.arange(steps) / STEPS_PER_H)[:, None]

    def drawn(between: Range) -> Floats:
        return rng.uniform(*between, batches)

    def wave(period_h: Floats) -> Floats:
        values: Floats = np.sin(2.0 * np.pi * (at_h / period_h + rng.uniform(0.0, 1.0, batches)))
        return values

    hump_pct = drawn(regime.hump_pct) * np.exp(-at_h / drawn((2.0, 8.0)))
    day = wave(np.full(batches, 24.0))
    temperature_k = drawn((0.0, 1.0)) * day
    humidity_pct = hump_pct - drawn((0.0, 2.5)) * day + drawn((0.0, 2.0)) * wave(drawn((5.0, 30.0)))

    # A fan that runs for a share of each quarter hour to two hours: moves the air, and dries it.
    share = drawn((0.1, 0.6))
    phase = at_h / drawn((0.25, 2.0)) + rng.uniform(0.0, 1.0, batches)
    on = (phase % 1.0) < share
    quiet_w = drawn((3.5, 7.0))
    film = np.where(on, quiet_w * drawn((1.3, 2.2)), quiet_w)
    humidity_pct = humidity_pct - drawn((0.0, 6.0)) * (on - share)

    if regime.compressor:
        cycle = wave(drawn((0.3, 0.7)))
        temperature_k = temperature_k + drawn((0.3, 1.3)) * cycle
        humidity_pct = humidity_pct + drawn((1.0, 5.0)) * cycle

    # Doors, for about six minutes, two to eight times a day.
    opened = rng.uniform(size=(steps, batches)) < drawn((2.0, 8.0)) / (24.0 * STEPS_PER_H)
    ajar = opened.copy()
    ajar[1:] |= opened[:-1]
    ajar[2:] |= opened[:-2]
    temperature_k = temperature_k + ajar * drawn((-1.0, 5.0))
    humidity_pct = humidity_pct + ajar * drawn((-20.0, 10.0))

    return Rooms(
        temperature_k=temperature_k,
        humidity_pct=humidity_pct,
        film_w_per_m2_k=film,
        off_temperature_k=rng.normal(0.0, 0.3, batches),
        off_humidity_pct=rng.normal(0.0, 1.0, batches),
        bias_temperature_k=rng.normal(0.0, 0.3, batches),
        bias_humidity_pct=rng.normal(0.0, 2.0, batches),
        noise_pct=rng.normal(0.0, 0.3, (steps // SENT_EVERY_STEPS + 1, batches)),
    )
