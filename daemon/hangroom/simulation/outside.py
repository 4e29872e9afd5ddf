"""Sensors in the air outside, measuring the weather that the simulated rooms breathe."""

from collections.abc import Mapping
from dataclasses import replace
from math import ceil

from hangroom.ports import Clock
from hangroom.simulation.ambient import Ambient
from hangroom.simulation.sensor import SensorSpec, SimulatedAirSensor

# Longer steps than a room's: weather turns slowly. Each sensor measures on a whole one.
STEP_S = 2.0


class SimulatedOutside:
    """The sensors by name; lives on in whole steps, as `SimulatedRoom` does."""

    def __init__(
        self, sensors: Mapping[str, SensorSpec], *, clock: Clock, ambient: Ambient, seed: int
    ) -> None:
        self._ambient = ambient
        self._first_uptime_s = clock.uptime_s()
        self._steps_done = 0
        start = ambient.at(0.0)
        self._every_steps = {name: ceil(spec.interval_s / STEP_S) for name, spec in sensors.items()}
        self.sensors = {
            name: SimulatedAirSensor(
                name,
                replace(spec, interval_s=self._every_steps[name] * STEP_S),
                clock=clock,
                seed=1000 * seed + number,
                temperature_c=start.temperature_c,
                vapour_kg_per_m3=start.vapour_kg_per_m3,
            )
            for number, (name, spec) in enumerate(sensors.items())
        }

    def advance(self, until_uptime_s: float) -> None:
        """Live on up to that moment of the clock given."""
        if not self.sensors:
            return
        steps = int((until_uptime_s - self._first_uptime_s) / STEP_S + 1e-9)
        while self._steps_done < steps:
            self._steps_done += 1
            elapsed_s = self._steps_done * STEP_S
            for name, sensor in self.sensors.items():
                if self._steps_done % self._every_steps[name] == 0:
                    air = self._ambient.at(elapsed_s)
                    sensor.observe(
                        self._first_uptime_s + elapsed_s,
                        temperature_c=air.temperature_c,
                        vapour_kg_per_m3=air.vapour_kg_per_m3,
                    )
