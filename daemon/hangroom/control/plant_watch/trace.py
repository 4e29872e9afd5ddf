"""The room's air over the last minutes, as the plant watch remembers it.

Readings come every few seconds, noisy and now and then not at all. What is kept is one sample every
five seconds or more, each the median of three readings, so that no single glitch moves anything.
Vapour is kept beside humidity: water is what humidifier, fan and door move, while relative humidity
moves with the temperature too.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import attrgetter
from statistics import fmean, median

from hangroom.air import (
    KELVIN_AT_0_C,
    WATER_VAPOUR_GAS_CONSTANT_J_PER_KG_K,
    saturation_pressure_fast_pa,
)

KEPT_S = 720.0
LEAST_APART_S = 5.0
READINGS_A_SAMPLE = 3
# A sensor's noise in temperature would move vapour as much as its noise in humidity; the air's
# temperature moves slowly enough to be taken over so many samples.
STEADYING_SAMPLES = 5
# After a longer silence what came before says nothing about now.
LONGEST_GAP_S = 90.0

_TIME = attrgetter("uptime_s")


@dataclass(frozen=True, slots=True, kw_only=True)
class AirSeen:
    """Air as measured: temperature, relative humidity, and when (monotonic)."""

    temperature_c: float
    humidity_pct: float
    taken_uptime_s: float


@dataclass(frozen=True, slots=True)
class Sample:
    """The air at one moment, smoothed."""

    uptime_s: float
    temperature_c: float
    humidity_pct: float
    vapour_g_per_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """Samples, oldest first, and the newest readings that the next one is made of."""

    samples: tuple[Sample, ...] = ()
    readings: tuple[AirSeen, ...] = ()


def vapour_g_per_m3(temperature_c: float, humidity_pct: float) -> float:
    """Grams of water in a cubic metre of air, as an ideal gas, from -40 to 50 degC.

    By its own, cheap formula (see `saturation_pressure_fast_pa`) and so within 0.6 %.
    """
    pressure_pa = humidity_pct / 100.0 * saturation_pressure_fast_pa(temperature_c)
    kelvin_k = temperature_c + KELVIN_AT_0_C
    return 1000.0 * pressure_pa / (WATER_VAPOUR_GAS_CONSTANT_J_PER_KG_K * kelvin_k)


def one_pct_g_per_m3(temperature_c: float) -> float:
    """How much water lifts a cubic metre of air by 1 %RH at that temperature, in grams."""
    return vapour_g_per_m3(temperature_c, 1.0)


def extended(trace: Trace, air: AirSeen) -> Trace:
    """Return the trace with one more reading, which may or may not make a sample."""
    readings = (*trace.readings[1 - READINGS_A_SAMPLE :], air)
    since_s = air.taken_uptime_s - trace.samples[-1].uptime_s if trace.samples else LONGEST_GAP_S
    if since_s > LONGEST_GAP_S:
        return Trace(readings=(air,))
    if len(readings) < READINGS_A_SAMPLE or since_s < LEAST_APART_S:
        return replace(trace, readings=readings)
    temperature_c = median([reading.temperature_c for reading in readings])
    humidity_pct = median([reading.humidity_pct for reading in readings])
    lately_c = [temperature_c, *(s.temperature_c for s in trace.samples[1 - STEADYING_SAMPLES :])]
    sample = Sample(
        air.taken_uptime_s,
        temperature_c,
        humidity_pct,
        vapour_g_per_m3(fmean(lately_c), humidity_pct),
    )
    forgotten = bool(trace.samples) and trace.samples[0].uptime_s < air.taken_uptime_s - KEPT_S
    return Trace(samples=(*trace.samples[forgotten:], sample), readings=readings)


def between(trace: Trace, from_uptime_s: float, to_uptime_s: float) -> Sequence[Sample]:
    """Return the samples of a stretch of time, both ends included."""
    samples = trace.samples
    return samples[
        bisect_left(samples, from_uptime_s, key=_TIME) : bisect_right(
            samples, to_uptime_s, key=_TIME
        )
    ]
