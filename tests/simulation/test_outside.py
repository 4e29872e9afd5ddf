"""Simulated sensors in the air outside tell the weather that the rooms breathe."""

from dataclasses import replace
from math import exp

import pytest
from simulation.rooms import EXACT_SENSOR, START

from hangroom.simulation.ambient import AirSeries, Ambient, ConstantAir
from hangroom.simulation.clock import SimulatedClock
from hangroom.simulation.outside import SimulatedOutside
from hangroom.simulation.vapour import humidity_pct


def outside(ambient: Ambient, **every_s: float) -> tuple[SimulatedOutside, SimulatedClock]:
    clock = SimulatedClock(start=START, uptime_s=500.0)
    made = SimulatedOutside(
        {
            name: replace(EXACT_SENSOR, interval_s=interval_s)
            for name, interval_s in every_s.items()
        },
        clock=clock,
        ambient=ambient,
        seed=1,
    )
    clock.follow(made.advance)
    return made, clock


def test_each_sensor_measures_the_air_at_its_own_pace() -> None:
    made, clock = outside(ConstantAir(temperature_c=8.0, humidity_pct=64.0), wall=6.0, tree=60.0)
    assert made.sensors["wall"].latest() is None
    clock.wait_until(500.0 + 65.0)
    wall, tree = made.sensors["wall"].latest(), made.sensors["tree"].latest()
    assert wall is not None
    assert tree is not None
    assert (wall.temperature_c, wall.humidity_pct) == (8.0, 64.0)
    assert (wall.taken_uptime_s, tree.taken_uptime_s) == (500.0 + 60.0, 500.0 + 60.0)
    clock.wait_until(500.0 + 119.0)
    wall, tree = made.sensors["wall"].latest(), made.sensors["tree"].latest()
    assert wall is not None
    assert tree is not None
    assert (wall.taken_uptime_s, tree.taken_uptime_s) == (500.0 + 114.0, 500.0 + 60.0)


def test_it_follows_the_weather_as_late_as_its_element() -> None:
    """A ramp of r per second is followed r tau late by a first-order element of lag tau."""
    series = AirSeries.from_humidity([(0.0, 0.0, 60.0), (1.0, 10.0, 60.0), (2.0, 20.0, 60.0)])
    lag_s, every_s = 120.0, 2.0
    clock = SimulatedClock(start=START)
    spec = replace(EXACT_SENSOR, interval_s=every_s, temperature_lag_s=lag_s)
    made = SimulatedOutside({"wall": spec}, clock=clock, ambient=series, seed=1)
    clock.follow(made.advance)
    clock.wait_until(3600.0)
    seen = made.sensors["wall"].latest()
    assert seen is not None
    per_s = 10.0 / 3600.0
    # In steps the element keeps exp(-every / lag) of the distance, each taken after the step.
    kept = exp(-every_s / lag_s)
    late_c = per_s * every_s * kept / (1.0 - kept)
    assert seen.temperature_c == pytest.approx(10.0 - late_c, abs=0.06)


def test_what_it_reads_is_the_series_humidity_at_that_temperature() -> None:
    series = AirSeries.from_humidity([(0.0, 12.0, 80.0), (1.0, 12.0, 40.0), (2.0, 12.0, 80.0)])
    made, clock = outside(series, wall=2.0)
    clock.wait_until(500.0 + 1800.0)
    seen, there = made.sensors["wall"].latest(), series.at(1800.0)
    assert seen is not None
    wanted = humidity_pct(
        vapour_kg_per_m3=there.vapour_kg_per_m3, temperature_c=there.temperature_c
    )
    assert wanted == pytest.approx(60.0, abs=0.01)
    assert seen.humidity_pct == pytest.approx(wanted, abs=0.06)
