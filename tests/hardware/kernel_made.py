"""Each of the kernel's drivers in a tree of its own, and what reads it there."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hardware.fake_sys import BME280, DHT11, SHT3X, SHT4X, add_dht11, add_i2c

from hangroom.hardware import kernel_files
from hangroom.hardware.failed_reads import READ_ERRORS, reason_for
from hangroom.hardware.measurement import Fault
from hangroom.hardware.sensor_child import Measure

BELOW_IIO = "iio:device1"


def sht3x(root: Path, files: dict[str, str] = SHT3X) -> tuple[Path, Measure]:
    return add_i2c(root, files), kernel_files.open_sht3x(1, 0x44, root)


def sht4x(root: Path, files: dict[str, str] = SHT4X) -> tuple[Path, Measure]:
    return add_i2c(root, files), kernel_files.open_sht4x(1, 0x44, root)


def bme280(root: Path, files: dict[str, str] = BME280) -> tuple[Path, Measure]:
    folder = add_i2c(root, files, place="1-0076", below=BELOW_IIO)
    return folder, kernel_files.open_bme280(1, 0x76, root)


def dht11(root: Path, files: dict[str, str] = DHT11) -> tuple[Path, Measure]:
    return add_dht11(root, 4, files), kernel_files.open_dht11(4, root)


EVERY = [sht3x, sht4x, bme280, dht11]
Make = Callable[[Path], tuple[Path, Measure]]
VALUES = ("temp1_input", "in_temp_input", "humidity1_input", "in_humidityrelative_input")


def fault_of(measure: Measure) -> Fault:
    with pytest.raises(READ_ERRORS) as caught:
        measure()
    return reason_for(caught.value)


def humidity_file(folder: Path) -> Path:
    return next(folder / name for name in VALUES[2:] if (folder / name).exists())
