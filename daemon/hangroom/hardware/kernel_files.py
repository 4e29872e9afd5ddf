"""Sensors that the kernel reads and shows as plain files. Runs in a sensor's child only.

Found by bus and address, or by the pin in the device tree: the numbers in `hwmonN` and
`iio:deviceN` are given out in the order the drivers come up and change from start to start.

Sources, in the Linux kernel: Documentation/ABI/testing/sysfs-bus-iio (milli-degC, milli-percent,
raw values: (raw + offset) * scale), Documentation/hwmon/sht3x.rst and sht4x.rst, and the drivers
drivers/iio/humidity/dht11.c, drivers/hwmon/sht3x.c and sht4x.c, drivers/iio/pressure/bmp280-core.c.
"""

import errno
import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from hangroom.hardware.failed_reads import READ_ERRORS, FailedReadError
from hangroom.hardware.measurement import DAMPEST_PCT, DRIEST_PCT, Fault
from hangroom.hardware.sensor_child import Measure

SYS = Path("/sys")

# The kernel's sht3x driver does not look at the checksums of a measurement (read in its source,
# mainline and Raspberry Pi's); its sht4x driver does. Each read of its files is a measurement of
# its own, so two pairs right after one another stand in for that: the sensor repeats itself within
# 0.04 degC and 0.08 %RH (SHT3x-DIS data sheet, high repeatability; figures from memory), and takes
# some eight seconds to follow the air.
SHT3X_REPEATS_C, SHT3X_REPEATS_PCT = 0.5, 2.0

_NUMBER = re.compile(rb"-?\d{1,12}(\.\d{1,12})?")
_DHT_REASONS = {
    errno.EIO: Fault.CHECKSUM,  # a frame out of step, of another kind, or with a wrong sum
    errno.ETIMEDOUT: Fault.NO_ANSWER,  # too few edges within a second
}


def open_dht11(pin: int, root: Path = SYS) -> Measure:
    """Read a DHT22 (or DHT11, DHT21) on a GPIO (BCM number) that the overlay dht11 names.

    The driver measures once for both files, and again when that is two seconds old.
    """

    def measure() -> tuple[float, float]:
        folder = _only(_dht11_folder(pin, root), "iio:device*")
        try:
            return _iio(folder, "temp"), _iio(folder, "humidityrelative")
        except OSError as error:
            reason = _DHT_REASONS.get(error.errno or 0)
            if reason is None:
                raise
            raise FailedReadError(reason) from error

    return measure


def open_sht3x(bus: int, address: int, root: Path = SYS) -> Measure:
    """Read an SHT31 (SHT30, SHT35) at an I2C address that the overlay i2c-sensor names."""

    def measure() -> tuple[float, float]:
        folder = _only(_i2c_folder(bus, address, "sht3x", root), "hwmon/hwmon*")
        _check_heater(folder)
        first_c, first_pct = _hwmon(folder)
        temperature_c, humidity_pct = _hwmon(folder)
        if (
            abs(temperature_c - first_c) > SHT3X_REPEATS_C
            or abs(humidity_pct - first_pct) > SHT3X_REPEATS_PCT
        ):
            raise FailedReadError(Fault.DISAGREES)
        return temperature_c, humidity_pct

    return measure


def open_sht4x(bus: int, address: int, root: Path = SYS) -> Measure:
    """Read an SHT45 (SHT40, SHT41) at an I2C address that the overlay i2c-sensor names.

    The driver measures once for both files, and again when that is two seconds old.
    """

    def measure() -> tuple[float, float]:
        folder = _only(_i2c_folder(bus, address, "sht4x", root), "hwmon/hwmon*")
        _check_heater(folder)
        temperature_c, humidity_pct = _hwmon(folder)
        # Its scale goes from -6 to 119 %; the data sheet has what lies beyond 0 and 100 cut off.
        return temperature_c, min(DAMPEST_PCT, max(DRIEST_PCT, humidity_pct))

    return measure


def open_bme280(bus: int, address: int, root: Path = SYS) -> Measure:
    """Read a BME280 at an I2C address that the overlay i2c-sensor names."""
    warm = False

    def measure() -> tuple[float, float]:
        nonlocal warm
        device = _i2c_folder(bus, address, "bme280", root)
        folder = _only(device, "iio:device*")
        if not warm:
            # The first values after its start may be those of before any measuring.
            with suppress(*READ_ERRORS):
                _iio_pair(folder)
            warm = True
        try:
            return _iio_pair(folder)
        except READ_ERRORS:
            warm = False
            raise

    return measure


def _i2c_folder(bus: int, address: int, name: str, root: Path) -> Path:
    device = root / "bus/i2c/devices" / f"{bus}-{address:04x}"
    if (device / "name").read_text(encoding="ascii", errors="replace").strip() != name:
        raise FailedReadError(Fault.WRONG_CHIP)
    return device


def _dht11_folder(pin: int, root: Path) -> Path:
    for device in sorted((root / "bus/platform/drivers/dht11").glob("*/")):
        with suppress(FileNotFoundError):
            cells = (device / "of_node/gpios").read_bytes()
            # Which controller, which pin, which flags, in 32 bits each.
            if int.from_bytes(cells[4:8], "big") == pin and len(cells) >= 8:  # noqa: PLR2004
                return device
    raise FailedReadError(Fault.NOT_FOUND)


def _only(device: Path, pattern: str) -> Path:
    """Return the one folder the driver made; a second one would be another sensor's."""
    found: Iterator[Path] = iter(sorted(device.glob(pattern)))
    folder = next(found, None)
    if folder is None or next(found, None) is not None:
        raise FailedReadError(Fault.NOT_FOUND)
    return folder


def _hwmon(folder: Path) -> tuple[float, float]:
    return _number(folder / "temp1_input") / 1000, _number(folder / "humidity1_input") / 1000


def _iio_pair(folder: Path) -> tuple[float, float]:
    return _iio(folder, "temp"), _iio(folder, "humidityrelative")


def _iio(folder: Path, channel: str) -> float:
    """Return a channel in whole units, from its finished value or from its raw one."""
    with suppress(FileNotFoundError):
        return _number(folder / f"in_{channel}_input") / 1000
    offset = 0.0
    with suppress(FileNotFoundError):
        offset = _number(folder / f"in_{channel}_offset")
    scale = _number(folder / f"in_{channel}_scale")
    return (_number(folder / f"in_{channel}_raw") + offset) * scale / 1000


def _check_heater(folder: Path) -> None:
    with suppress(FileNotFoundError):  # older sht4x drivers have none
        if _number(folder / "heater_enable") != 0:
            raise FailedReadError(Fault.HEATER_ON)


def _number(file: Path) -> float:
    text = file.read_bytes()
    if not text.endswith(b"\n"):  # the kernel ends every such file with one
        raise FailedReadError(Fault.HALF_FRAME)
    if _NUMBER.fullmatch(text[:-1]) is None:
        raise FailedReadError(Fault.NO_NUMBER)
    return float(text)
