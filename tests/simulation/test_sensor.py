"""The simulated sensor against its maker's figures and closed forms of a lag."""

import json
from dataclasses import replace
from itertools import pairwise
from math import exp

import pytest
from scipy.stats import binom
from simulation.rooms import EXACT_SENSOR, START

from hangroom.errors import InputError
from hangroom.ports import AirSensor
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.sensor import (
    CHECKSUM,
    NO_ANSWER,
    SensorSpec,
    SensorTrouble,
    SimulatedAirSensor,
)
from hangroom.simulation.vapour import saturation_kg_per_m3
from hangroom.terms import AirReading


def vapour(temperature_c: float, rh_pct: float) -> float:
    return rh_pct / 100 * saturation_kg_per_m3(temperature_c)


def sensor(spec: SensorSpec, *, seed: int = 1) -> tuple[SimulatedAirSensor, SimulatedClock]:
    clock = SimulatedClock(start=START)
    made = SimulatedAirSensor(
        "main", spec, clock=clock, seed=seed, temperature_c=15.0, vapour_kg_per_m3=vapour(15, 80)
    )
    return made, clock


def watch(
    made: SimulatedAirSensor,
    clock: SimulatedClock,
    times: int,
    *,
    temperature_c: float = 15.0,
    rh_pct: float = 80.0,
) -> list[AirReading | None]:
    seen = []
    for _ in range(times):
        clock.wait_until(clock.uptime_s() + made.spec.interval_s)
        made.observe(
            clock.uptime_s(),
            temperature_c=temperature_c,
            vapour_kg_per_m3=vapour(temperature_c, rh_pct),
        )
        seen.append(made.latest())
    return seen


def test_before_the_first_measurement_there_is_nothing_rather_than_zero() -> None:
    made, _ = sensor(EXACT_SENSOR)
    port: AirSensor = made
    assert port.latest() is None


def test_readings_come_in_tenths_two_seconds_apart_and_stamped_when_taken() -> None:
    made, clock = sensor(SensorSpec())
    readings = [reading for reading in watch(made, clock, 2000) if reading is not None]
    for reading in readings:
        for value in (reading.temperature_c, reading.humidity_pct):
            assert value * 10 == pytest.approx(round(value * 10), abs=1e-9)
        assert (reading.taken_at - START).total_seconds() == reading.taken_uptime_s
    stamps = sorted({reading.taken_uptime_s for reading in readings})
    assert min(later - earlier for earlier, later in pairwise(stamps)) >= 2.0


def test_a_shorter_interval_than_the_element_s_is_refused() -> None:
    with pytest.raises(InputError, match="interval_s is 1"):
        SensorSpec(interval_s=1.0)


def test_the_share_of_lost_reads_lies_within_binomial_bounds() -> None:
    made, clock = sensor(SensorSpec(dropout_ratio=0.02, bursts_per_day=0.0), seed=3)
    watch(made, clock, 20_000)
    low, high = binom.interval(0.9999, 20_000, 0.02)
    assert low <= made.faults()[CHECKSUM] <= high
    assert made.faults()[NO_ANSWER] == 0


def test_bursts_of_silence_come_about_as_often_as_told_and_last_up_to_two_minutes() -> None:
    made, clock = sensor(replace(EXACT_SENSOR, bursts_per_day=24.0), seed=4)
    seen = watch(made, clock, 10 * 43_200)
    stamps = sorted({reading.taken_uptime_s for reading in seen if reading is not None})
    silences = [later - earlier for earlier, later in pairwise(stamps) if later - earlier > 2.0]
    low, high = binom.interval(0.9999, 10 * 43_200, 24.0 / 43_200)
    # A burst can begin only while the sensor answers: nearly always.
    assert low * 0.95 <= len(silences) <= high
    assert 30.0 <= min(silences) <= max(silences) <= 124.0


def test_a_lost_read_leaves_the_old_reading_with_its_old_stamp() -> None:
    made, clock = sensor(EXACT_SENSOR)
    (first,) = watch(made, clock, 1)
    made.trouble = SensorTrouble(silent=True)
    assert watch(made, clock, 5, rh_pct=30.0) == [first] * 5
    assert made.latest() is first
    assert made.faults()[NO_ANSWER] == 5


def test_a_reading_first_asked_for_later_still_bears_the_time_it_was_taken() -> None:
    made, clock = sensor(EXACT_SENSOR)
    made.observe(0.0, temperature_c=15.0, vapour_kg_per_m3=vapour(15.0, 80.0))
    clock.wait_until(45.0)
    reading = made.latest()
    assert reading is not None
    assert (reading.taken_at, reading.taken_uptime_s) == (START, 0.0)


def test_noise_has_the_spread_it_was_given() -> None:
    spec = replace(EXACT_SENSOR, humidity_noise_pct=0.5, temperature_noise_c=0.2)
    made, clock = sensor(spec, seed=5)
    readings = [reading for reading in watch(made, clock, 10_000) if reading is not None]
    for values, sd in (
        ([r.humidity_pct - 80 for r in readings], 0.5),
        ([r.temperature_c - 15 for r in readings], 0.2),
    ):
        mean = sum(values) / len(values)
        spread = (sum((value - mean) ** 2 for value in values) / len(values)) ** 0.5
        # Rounding adds 0.1^2 / 12 to the variance; four standard errors.
        assert mean == pytest.approx(0.0, abs=4 * sd / 100)
        assert spread == pytest.approx((sd**2 + 0.01 / 12) ** 0.5, rel=4 / (2 * 10_000) ** 0.5)


def test_dead_time_and_lag_delay_a_step_as_the_closed_form() -> None:
    spec = replace(EXACT_SENSOR, dead_time_s=10.0, humidity_lag_s=20.0)
    made, clock = sensor(spec)
    seen = watch(made, clock, 60, rh_pct=60.0)
    for number, reading in enumerate(seen, start=1):
        assert reading is not None
        # Seen from the first observation of the new air on, held over each interval.
        past_s = max(0.0, 2.0 * number - 10.0)
        assert reading.humidity_pct == pytest.approx(60 + 20 * exp(-past_s / 20), abs=0.051)


def test_humidity_forms_at_the_temperature_of_the_sensor() -> None:
    # Published rule: one degree of self-heating takes 5 %RH off at 80 %RH.
    made, clock = sensor(replace(EXACT_SENSOR, self_heating_c=1.0))
    reading = watch(made, clock, 1)[0]
    assert reading is not None
    assert reading.temperature_c == pytest.approx(16.0, abs=0.051)
    assert reading.humidity_pct == pytest.approx(75.0, abs=0.3)


def test_bias_and_drift_add_up() -> None:
    spec = replace(EXACT_SENSOR, humidity_bias_pct=-3.0, drift_pct_per_day=2.0)
    made, clock = sensor(spec)
    reading = watch(made, clock, 43_200)[-1]
    assert reading is not None
    assert reading.humidity_pct == pytest.approx(80.0 - 3.0 + 2.0, abs=0.051)


def test_no_reading_lies_outside_what_the_element_can_show() -> None:
    made, clock = sensor(replace(EXACT_SENSOR, humidity_bias_pct=40.0))
    high = watch(made, clock, 1)[0]
    made, clock = sensor(replace(EXACT_SENSOR, humidity_bias_pct=-90.0))
    low = watch(made, clock, 1)[0]
    assert high is not None
    assert low is not None
    assert (high.humidity_pct, low.humidity_pct) == (99.9, 0.0)


def test_a_restored_sensor_goes_on_exactly_as_the_first() -> None:
    first, clock = sensor(SensorSpec(), seed=6)
    watch(first, clock, 100, rh_pct=60.0)
    kept = json.loads(json.dumps(first.snapshot(clock.uptime_s())))
    second, second_clock = sensor(SensorSpec(), seed=99)
    second_clock.wait_until(7000.0)
    second.restore(kept, 7000.0)
    later = watch(first, clock, 200, rh_pct=70.0)
    for one, other in zip(later, watch(second, second_clock, 200, rh_pct=70.0), strict=True):
        assert one is not None
        assert other is not None
        assert (one.temperature_c, one.humidity_pct) == (other.temperature_c, other.humidity_pct)
        assert other.taken_uptime_s - one.taken_uptime_s == 7000.0 - 200.0
    assert first.faults() == second.faults()
