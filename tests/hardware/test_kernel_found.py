"""The kernel's files of a sensor found by its place, gone, blocked, and found again."""

import os
from pathlib import Path

import pytest
from hardware.fake_sys import BME280, DHT11, SHT3X, add_dht11, add_i2c
from hardware.kernel_made import (
    BELOW_IIO,
    EVERY,
    Make,
    dht11,
    fault_of,
    humidity_file,
    sht3x,
)
from hardware.sensing import IMPATIENT, Open, failed_by, wait_for

from hangroom.hardware import kernel_files
from hangroom.hardware.measurement import Fault
from hangroom.hardware.sensor_child import Measure


@pytest.mark.parametrize("below", ["hwmon/hwmon0", "hwmon/hwmon12"])
def test_the_number_that_a_start_gave_it_is_of_no_account(tmp_path: Path, below: str) -> None:
    add_i2c(tmp_path, SHT3X | {"temp1_input": "99000\n"}, place="1-0045", below="hwmon/hwmon1")
    add_i2c(tmp_path, SHT3X, below=below)
    assert kernel_files.open_sht3x(1, 0x44, tmp_path)() == (13.24, 76.31)


def test_a_number_that_changes_while_it_runs_is_found_again(tmp_path: Path) -> None:
    folder, measure = sht3x(tmp_path)
    assert measure() == (13.24, 76.31)
    folder.rename(folder.with_name("hwmon9"))
    assert measure() == (13.24, 76.31)


def test_two_dht22_are_told_apart_by_their_pin(tmp_path: Path) -> None:
    """The overlay names every node dht11@0 in some versions, so the name says nothing."""
    add_dht11(tmp_path, 16, DHT11 | {"in_temp_input": "3000\n"}, number=0, node="dht11@0")
    add_dht11(tmp_path, 4, DHT11, number=1, node="dht11@1")
    assert kernel_files.open_dht11(4, tmp_path)()[0] == 13.2
    assert kernel_files.open_dht11(16, tmp_path)()[0] == 3.0
    assert fault_of(kernel_files.open_dht11(17, tmp_path)) is Fault.NOT_FOUND


@pytest.mark.parametrize("make", EVERY)
def test_without_a_driver_it_is_not_found(tmp_path: Path, make: Make) -> None:
    folder, measure = make(tmp_path)
    for file in folder.iterdir():
        file.unlink()
    folder.rmdir()
    assert fault_of(measure) is Fault.NOT_FOUND


@pytest.mark.parametrize(
    "measure",
    [
        kernel_files.open_dht11(4, Path("/nowhere")),
        kernel_files.open_sht3x(1, 0x44, Path("/nowhere")),
        kernel_files.open_sht4x(1, 0x44, Path("/nowhere")),
        kernel_files.open_bme280(1, 0x76, Path("/nowhere")),
    ],
)
def test_without_an_overlay_it_is_not_found(measure: Measure) -> None:
    assert fault_of(measure) is Fault.NOT_FOUND


@pytest.mark.parametrize("make", EVERY)
def test_unplugged_while_it_runs_it_is_not_found(tmp_path: Path, make: Make) -> None:
    folder, measure = make(tmp_path)
    measure()
    humidity_file(folder).unlink()
    assert fault_of(measure) is Fault.NOT_FOUND


def test_another_chip_at_that_address_is_refused(tmp_path: Path) -> None:
    """A BMP280 looks the same, answers at the same addresses and measures no humidity."""
    add_i2c(tmp_path, BME280 | {"name": "bmp280\n"}, place="1-0076", below=BELOW_IIO)
    assert fault_of(kernel_files.open_bme280(1, 0x76, tmp_path)) is Fault.WRONG_CHIP


@pytest.mark.parametrize(
    ("kind", "make"), [("dht22", dht11), ("sht31", sht3x)], ids=["dht11", "sht3x"]
)
def test_a_file_that_blocks_costs_a_child_and_nothing_else(
    open_sensor: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, make: Make
) -> None:
    monkeypatch.setenv("SCRIPTED_ROOT", str(tmp_path))
    folder, _ = make(tmp_path)
    file = humidity_file(folder)
    text = file.read_text()
    file.unlink()
    os.mkfifo(file)
    sensor = open_sensor(f"kernel_{make.__name__}", IMPATIENT, kind=kind)
    wait_for(lambda: sensor.faults()["timeout"] >= 2)
    assert sensor.latest() is None
    assert failed_by(sensor) == {"timeout"}
    file.unlink()
    file.write_text(text)
    wait_for(lambda: sensor.latest() is not None)


def test_a_folder_that_vanishes_and_returns_under_another_number(
    open_sensor: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SCRIPTED_ROOT", str(tmp_path))
    folder, _ = sht3x(tmp_path)
    sensor = open_sensor("kernel_sht3x", kind="sht31")
    wait_for(lambda: sensor.latest() is not None)
    away = folder.rename(tmp_path / "away")
    wait_for(lambda: sensor.faults()["not-found"] >= 3)
    before = sensor.latest()
    wait_for(lambda: sensor.faults()["not-found"] >= 6)
    assert sensor.latest() is before
    away.rename(folder.with_name("hwmon7"))
    wait_for(lambda: sensor.latest() is not before)
