"""A simulated temperature and humidity sensor of the DHT22's kind, with its manners and faults.

Between the room's air and a reading lie: a dead time while stirred air reaches the sensor, a lag of
mixing, the lag of each element, an offset, noise, rounding to 0.1, and now and then no answer.
Relative humidity forms at the temperature of the sensor, not of the air.
"""

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from math import exp, inf
from random import Random
from statistics import NormalDist
from typing import Any

from hangroom.errors import InputError
from hangroom.ports import Clock
from hangroom.simulation.vapour import humidity_pct, saturation_kg_per_m3
from hangroom.terms import AirReading

# The element leaves 2 s between measurements (maker's data sheet).
SHORTEST_INTERVAL_S = 2.0
DAY_S = 86400.0
WETTEST_PCT = 99.9
STEPS_PER_UNIT = 10.0  # readings come in tenths
SPIKE_RATIO = 0.05
BURST_S = (30.0, 120.0)
# Noise is drawn from the middles of equal slices of the normal distribution: four times as fast as
# a generator, and as good once rounded to tenths.
NOISE_BITS = 10
NOISE_MASK = (1 << NOISE_BITS) - 1
NOISE = tuple(
    NormalDist().inv_cdf((rank + 0.5) / (1 << NOISE_BITS)) for rank in range(1 << NOISE_BITS)
)

NO_ANSWER = "no answer"
CHECKSUM = "checksum differs"


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorSpec:
    """How one sensor errs. Defaults: a healthy sensor of the +-2 %RH class (judgement).

    Dead time and lags let a pulse of mist show some 20 s late. On top of single losses,
    `dropout_ratio` of all reads, come `bursts_per_day` silences of 30 to 120 s.
    """

    interval_s: float = SHORTEST_INTERVAL_S
    dead_time_s: float = 6.0
    mixing_lag_s: float = 6.0
    humidity_lag_s: float = 5.0
    temperature_lag_s: float = 6.0
    self_heating_c: float = 0.0
    humidity_bias_pct: float = 0.0
    temperature_bias_c: float = 0.0
    drift_pct_per_day: float = 0.0
    humidity_noise_pct: float = 0.3
    temperature_noise_c: float = 0.05
    dropout_ratio: float = 0.02
    bursts_per_day: float = 1.0

    def __post_init__(self) -> None:
        """Raises InputError for an interval the element cannot keep."""
        if not SHORTEST_INTERVAL_S <= self.interval_s < inf:
            raise InputError(
                f"interval_s is {self.interval_s:g}; the element needs "
                f"{SHORTEST_INTERVAL_S:g} s or more"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorTrouble:
    """What faults do to a sensor for now; drift grows from `drift_from_s` after the start."""

    silent: bool = False
    frozen: bool = False
    wet: bool = False
    bias_pct: float = 0.0
    drift_pct_per_day: float = 0.0
    drift_from_s: float = 0.0
    spike_pct: float = 0.0


HEALTHY = SensorTrouble()


class SimulatedAirSensor:
    """Fits `ports.AirSensor`; whoever steps the room calls `observe` every `spec.interval_s`.

    It starts at rest in the air it is told of.
    """

    def __init__(
        self,
        name: str,
        spec: SensorSpec,
        *,
        clock: Clock,
        seed: int,
        temperature_c: float,
        vapour_kg_per_m3: float,
    ) -> None:
        self._name = name
        self.spec = spec
        self.trouble = HEALTHY
        self._clock = clock
        self._random = Random(seed)
        self._mixing_ratio = _approach_ratio(spec.interval_s, spec.mixing_lag_s)
        self._humidity_ratio = _approach_ratio(spec.interval_s, spec.humidity_lag_s)
        self._temperature_ratio = _approach_ratio(spec.interval_s, spec.temperature_lag_s)
        self._burst_ratio = spec.bursts_per_day * spec.interval_s / DAY_S
        # Air on its way to the sensor, air at the sensor, and the elements themselves.
        on_the_way = round(spec.dead_time_s / spec.interval_s)
        self._on_the_way = deque([(temperature_c, vapour_kg_per_m3)] * on_the_way)
        self._air_c = temperature_c
        self._air_kg_per_m3 = vapour_kg_per_m3
        self._element_c = temperature_c + spec.self_heating_c
        self._element_pct = humidity_pct(
            vapour_kg_per_m3=vapour_kg_per_m3, temperature_c=self._element_c
        )
        self._observed_s = 0.0
        self._silent_until_s = 0.0
        # Uptime, temperature, humidity; made into a reading only when somebody asks.
        self._measured: tuple[float, float, float] | None = None
        self._reading: AirReading | None = None
        self._missed = {NO_ANSWER: 0, CHECKSUM: 0}

    @property
    def name(self) -> str:
        """The keeper's name for it."""
        return self._name

    def latest(self) -> AirReading | None:
        """The newest successful measurement, or None while there has been none."""
        if self._measured is None:
            return None
        uptime_s, temperature_c, humidity_pct = self._measured
        if self._reading is None or self._reading.taken_uptime_s != uptime_s:
            taken_at = self._clock.now()
            if age_s := self._clock.uptime_s() - uptime_s:
                taken_at -= timedelta(seconds=age_s)
            self._reading = AirReading(
                taken_at=taken_at,
                taken_uptime_s=uptime_s,
                temperature_c=temperature_c,
                humidity_pct=humidity_pct,
            )
        return self._reading

    def faults(self) -> Mapping[str, int]:
        """How many measurements failed so far, by reason."""
        return dict(self._missed)

    def close(self) -> None:
        """Nothing to let go of."""

    def observe(self, uptime_s: float, *, temperature_c: float, vapour_kg_per_m3: float) -> None:
        """Meet the room's air as it is now, and try to measure."""
        spec = self.spec
        self._observed_s += spec.interval_s
        self._on_the_way.append((temperature_c, vapour_kg_per_m3))
        arriving_c, arriving_kg_per_m3 = self._on_the_way.popleft()
        self._air_c += self._mixing_ratio * (arriving_c - self._air_c)
        self._air_kg_per_m3 += self._mixing_ratio * (arriving_kg_per_m3 - self._air_kg_per_m3)
        self._element_c += self._temperature_ratio * (
            self._air_c + spec.self_heating_c - self._element_c
        )
        met_pct = 100.0 * self._air_kg_per_m3 / saturation_kg_per_m3(self._element_c)
        self._element_pct += self._humidity_ratio * (met_pct - self._element_pct)
        if self._answers():
            self._measure(uptime_s)

    def snapshot(self, uptime_s: float) -> dict[str, Any]:
        """State as a JSON-able dict, times counted from `uptime_s`."""
        return {
            "on_the_way": list(self._on_the_way),
            "air": [self._air_c, self._air_kg_per_m3],
            "element": [self._element_c, self._element_pct],
            "observed_s": self._observed_s,
            "silent_until_s": self._silent_until_s,
            "measured": self._measured and (self._measured[0] - uptime_s, *self._measured[1:]),
            "missed": dict(self._missed),
            "random": self._random.getstate(),
        }

    def restore(self, snapshot: Mapping[str, Any], uptime_s: float) -> None:
        """Go on from such a dict at the present `uptime_s`."""
        self._on_the_way = deque((pair[0], pair[1]) for pair in snapshot["on_the_way"])
        self._air_c, self._air_kg_per_m3 = snapshot["air"]
        self._element_c, self._element_pct = snapshot["element"]
        self._observed_s = snapshot["observed_s"]
        self._silent_until_s = snapshot["silent_until_s"]
        measured = snapshot["measured"]
        self._measured = measured and (measured[0] + uptime_s, measured[1], measured[2])
        self._reading = None
        self._missed = dict(snapshot["missed"])
        version, numbers, spare = snapshot["random"]
        self._random.setstate((version, tuple(numbers), spare))

    def _answers(self) -> bool:
        """Whether a measurement comes through; counts the reason if not."""
        if self.trouble.silent or self._observed_s < self._silent_until_s:
            self._missed[NO_ANSWER] += 1
            return False
        chance = self._random.random() - self.spec.dropout_ratio
        if chance < 0.0:
            self._missed[CHECKSUM] += 1
            return False
        if chance < self._burst_ratio:
            self._silent_until_s = self._observed_s + self._random.uniform(*BURST_S)
        return True

    def _measure(self, uptime_s: float) -> None:
        """What the elements show, with noise, trouble and rounding."""
        spec, trouble = self.spec, self.trouble
        if trouble.frozen and self._measured is not None:
            self._measured = uptime_s, self._measured[1], self._measured[2]
            return
        bits = self._random.getrandbits(2 * NOISE_BITS)
        seen_c = self._element_c + spec.temperature_bias_c
        seen_c += spec.temperature_noise_c * NOISE[bits & NOISE_MASK]
        seen_pct = self._element_pct + spec.humidity_bias_pct
        seen_pct += spec.humidity_noise_pct * NOISE[bits >> NOISE_BITS]
        seen_pct += spec.drift_pct_per_day * self._observed_s / DAY_S
        if trouble is not HEALTHY:
            seen_pct += self._error_pct(trouble)
        seen_pct = min(max(seen_pct, 0.0), WETTEST_PCT)
        self._measured = (
            uptime_s,
            round(seen_c * STEPS_PER_UNIT) / STEPS_PER_UNIT,
            round(seen_pct * STEPS_PER_UNIT) / STEPS_PER_UNIT,
        )

    def _error_pct(self, trouble: SensorTrouble) -> float:
        """What faults add to the humidity; more than any reading where the element is wet."""
        if trouble.wet:
            return inf
        error_pct = trouble.bias_pct
        error_pct += trouble.drift_pct_per_day * (self._observed_s - trouble.drift_from_s) / DAY_S
        if trouble.spike_pct != 0.0 and self._random.random() < SPIKE_RATIO:
            error_pct += trouble.spike_pct
        return error_pct


def _approach_ratio(interval_s: float, lag_s: float) -> float:
    """How much of a distance a first-order lag covers in one interval."""
    return 1.0 - exp(-interval_s / lag_s) if lag_s > 0.0 else 1.0
