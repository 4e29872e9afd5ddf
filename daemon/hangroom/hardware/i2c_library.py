"""SHT31, SHT45 and BME280 through the CircuitPython drivers. Runs in a sensor's child only.

A driver's object is thrown away after whatever went wrong and made anew by the next read, so that
a sensor which lost its supply, or sat in another mode, is reset and set up again.
"""

from collections.abc import Callable
from importlib import import_module
from typing import Any

from hangroom.hardware.failed_reads import READ_ERRORS, FailedReadError, reason_for
from hangroom.hardware.measurement import Fault
from hangroom.hardware.sensor_child import Measure

# Opens an I2C bus of that number as the drivers want it.
OpenBus = Callable[[int], Any]

# BME280 data sheet: eight bytes of measured values from here on (section 5.4), and what they hold
# until the first measurement, or while one of them is left out.
_VALUES_AT = 0xF7
_NO_TEMPERATURE, _NO_HUMIDITY = 0x80000, 0x8000

# SHT3x-DIS data sheet, status register: bit 13, the heater is on. Some of its bits are always zero.
_HEATS, _NO_STATUS = 0x2000, 0xFFFF

# Two objects of one BME280 read its factory figures, which have no checksum, once each. Measured
# within a tenth of a second the same figures give the same within the sensor's noise.
BME280_REPEATS_C, BME280_REPEATS_PCT = 0.5, 2.0


def linux_bus(number: int) -> Any:  # noqa: ANN401 - the library has no types
    """Open /dev/i2c-`number`, without asking what board this is and without any GPIO library."""
    lockable = import_module("adafruit_blinka").Lockable
    i2c = import_module("adafruit_blinka.microcontroller.generic_linux.i2c").I2C
    return type("Bus", (lockable, i2c), {})(number)


def open_sht31(bus: int, address: int, open_bus: OpenBus = linux_bus) -> Measure:
    """Read an SHT31 in single shots; the library checks both checksums."""
    library = import_module("adafruit_sht31d")

    def read(sensor: Any) -> tuple[float, float]:  # noqa: ANN401 - the library has no types
        status = sensor.status
        if status == _NO_STATUS:
            raise FailedReadError(Fault.ALL_ONES)
        # Nobody here switches the heater on; the soft reset of the next start switches it off.
        if status & _HEATS:
            raise FailedReadError(Fault.HEATER_ON)
        return sensor.temperature, sensor.relative_humidity

    return _renewed(bus, open_bus, lambda wire: library.SHT31D(wire, address), read)


def open_sht45(bus: int, address: int, open_bus: OpenBus = linux_bus) -> Measure:
    """Read an SHT45 without its heater; the library checks both checksums."""
    library = import_module("adafruit_sht4x")

    def read(sensor: Any) -> tuple[float, float]:  # noqa: ANN401 - the library has no types
        temperature_c, humidity_pct = sensor.measurements
        return float(temperature_c), float(humidity_pct)

    return _renewed(bus, open_bus, lambda wire: library.SHT4x(wire, address), read)


def open_bme280(bus: int, address: int, open_bus: OpenBus = linux_bus) -> Measure:
    """Read a BME280 in single shots; it has no checksums, so what can be compared is."""
    library = import_module("adafruit_bme280.basic")
    devices = import_module("adafruit_bus_device.i2c_device")

    def values(sensor: Any) -> tuple[float, float]:  # noqa: ANN401 - the library has no types
        return float(sensor.temperature), float(sensor.relative_humidity)

    def make(wire: Any) -> tuple[Any, Any]:  # noqa: ANN401 - the library has no types
        first = library.Adafruit_BME280_I2C(wire, address)
        values(first)  # the first sample after its start is not to be gone by
        before_c, before_pct = values(first)
        sensor = library.Adafruit_BME280_I2C(wire, address)
        values(sensor)  # it has just been reset again
        after_c, after_pct = values(sensor)
        if not (
            abs(after_c - before_c) <= BME280_REPEATS_C
            and abs(after_pct - before_pct) <= BME280_REPEATS_PCT
        ):
            raise FailedReadError(Fault.DISAGREES)
        return sensor, devices.I2CDevice(wire, address, probe=False)

    def read(made: tuple[Any, Any]) -> tuple[float, float]:
        sensor, device = made
        measured = values(sensor)
        raw = bytearray(8)
        with device:
            device.write(bytes([_VALUES_AT]))
            device.readinto(raw)
        _check_raw(bytes(raw))
        return measured

    return _renewed(bus, open_bus, make, read)


def _check_raw(raw: bytes) -> None:
    if not any(raw):
        raise FailedReadError(Fault.ALL_ZERO)
    if raw == b"\xff" * len(raw):
        raise FailedReadError(Fault.ALL_ONES)
    temperature = int.from_bytes(raw[3:6], "big") >> 4
    humidity = int.from_bytes(raw[6:8], "big")
    if temperature == _NO_TEMPERATURE or humidity == _NO_HUMIDITY:
        raise FailedReadError(Fault.NOT_MEASURED)


def _renewed(
    bus: int,
    open_bus: OpenBus,
    make: Callable[[Any], Any],
    read: Callable[[Any], tuple[float, float]],
) -> Measure:
    """Return a measure that keeps what it made until a read fails, and the bus until that is gone.

    So that a sensor which stays away for a night opens no bus for each try.
    """
    wire: Any = None
    made: Any = None

    def measure() -> tuple[float, float]:
        nonlocal wire, made
        try:
            if wire is None:
                wire = open_bus(bus)
            if made is None:
                made = make(wire)
            return read(made)
        except READ_ERRORS as error:
            made = None
            if reason_for(error) is Fault.NOT_FOUND:
                wire = None
            raise

    return measure
