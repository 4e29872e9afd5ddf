"""Sensors on scripted drivers, for the tests of this folder."""

import os
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))

from hardware.sensing import OTHERS, QUICK, Open, children

from hangroom.hardware.child_sensor import ChildSensor, Pace
from hangroom.hardware.clock import SystemClock
from hangroom.sensor_kinds import KINDS


@pytest.fixture
def open_sensor(monkeypatch: pytest.MonkeyPatch) -> Iterator[Open]:
    """Open sensors on scripted drivers, and prove afterwards that nothing is left running."""
    here = Path(__file__).parent
    monkeypatch.setenv("PYTHONPATH", f"{here}{os.pathsep}{here.parent}")
    OTHERS.clear()
    OTHERS.update(children())
    opened: list[ChildSensor] = []

    def open_sensor(driver: str, pace: Pace = QUICK, *, kind: str = "dht22") -> ChildSensor:
        sensor = ChildSensor(
            name="rail",
            kind=KINDS[kind],
            driver=f"scripted:{driver}",
            place=(1, 0x44) if KINDS[kind].addresses else (4,),
            clock=SystemClock(),
            pace=pace,
        )
        opened.append(sensor)
        return sensor

    yield open_sensor
    for sensor in opened:
        sensor.close()
        sensor.close()
    assert not children()
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("sensor ")]
