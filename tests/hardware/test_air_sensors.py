"""From the settings to sensors of every kind, read by a library or by the kernel."""

from pathlib import Path
from pkgutil import resolve_name
from typing import Any

import pytest
from hardware.sensing import children, wait_for

from hangroom.cli import real_rooms
from hangroom.hardware.air_sensors import DRIVERS
from hangroom.hardware.clock import SystemClock
from hangroom.hardware.measurement import Fault
from hangroom.sensor_kinds import KINDS, Driver
from hangroom.settings import check_settings

KERNEL = {
    "outside": {
        "sensor": {
            "dht": {"kind": "dht22", "pin": 16, "driver": "kernel"},
            "sht31": {"kind": "sht31", "bus": 77, "driver": "kernel"},
            "sht45": {"kind": "sht45", "bus": 77, "address": 0x46, "driver": "kernel"},
            "bme280": {"kind": "bme280", "bus": 77, "address": 0x77, "driver": "kernel"},
        }
    },
    "room": {"closet": {"title": "C", "sensor": {"rail": {"kind": "dht22", "pin": 4}}}},
}


def test_every_kind_can_be_read_either_way_by_what_is_there() -> None:
    assert set(DRIVERS) == {(kind, driver) for kind in KINDS for driver in Driver}
    assert all(callable(resolve_name(opens)) for opens in DRIVERS.values())


@pytest.mark.parametrize("kind", ["dht22", "sht45"])
def test_no_read_finds_what_the_kernels_driver_still_remembers(kind: str) -> None:
    """dht11.c keeps a measurement for 2 000 000 000 ns, sht4x.c for at least 2000 ms.

    Even after the sensor is gone.
    """
    assert KINDS[kind].rest_s > 2.0


def test_the_readme_explains_every_name_that_a_failed_read_can_have() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    section = readme.partition("\n## Sensors\n")[2].partition("\n## ")[0]
    assert not [fault for fault in Fault if f"`{fault}`" not in section]


def test_sensors_outside_that_no_overlay_names_are_counted_as_not_found() -> None:
    with real_rooms.real_outside(check_settings(KERNEL, source="x"), SystemClock()) as sensors:
        assert set(sensors) == {"dht", "sht31", "sht45", "bme280"}
        for sensor in sensors.values():
            wait_for(lambda sensor=sensor: sensor.faults()["not-found"] >= 1)  # type: ignore[misc]
            assert sensor.latest() is None
    assert not children()


def test_each_is_opened_where_the_settings_say(monkeypatch: pytest.MonkeyPatch) -> None:
    opened: dict[str, dict[str, Any]] = {}

    class Opened:
        def __init__(self, *, name: str, **given: object) -> None:
            opened[name] = given

        def close(self) -> None:
            pass

    monkeypatch.setattr("hangroom.hardware.air_sensors.ChildSensor", Opened)
    with real_rooms.real_outside(check_settings(KERNEL, source="x"), SystemClock()):
        pass
    assert {name: given["place"] for name, given in opened.items()} == {
        "dht": (16,),
        "sht31": (77, 0x44),
        "sht45": (77, 0x46),
        "bme280": (77, 0x77),
    }
    assert opened["sht45"]["driver"].endswith(":open_sht4x")
    assert all(given["pace"].read_every_s == 6.0 for given in opened.values())
    assert {name: given["pace"].rest_s for name, given in opened.items()} == {
        "dht": 2.1,
        "sht31": 1.0,
        "sht45": 2.1,
        "bme280": 2.1,
    }
