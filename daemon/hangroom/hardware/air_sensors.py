"""Which sensors can be read how: the one table of drivers, and the way to open any of them."""

from hangroom.hardware.child_sensor import ChildSensor, Pace
from hangroom.ports import Clock
from hangroom.sensor_kinds import KINDS, Driver

# What the child opens it with. Only the child imports these modules, and they their libraries.
DRIVERS = {
    ("dht22", Driver.BY_LIBRARY): "hangroom.hardware.dht22_library:open_dht22",
    ("dht22", Driver.KERNEL): "hangroom.hardware.kernel_files:open_dht11",
    ("sht31", Driver.BY_LIBRARY): "hangroom.hardware.i2c_library:open_sht31",
    ("sht31", Driver.KERNEL): "hangroom.hardware.kernel_files:open_sht3x",
    ("sht45", Driver.BY_LIBRARY): "hangroom.hardware.i2c_library:open_sht45",
    ("sht45", Driver.KERNEL): "hangroom.hardware.kernel_files:open_sht4x",
    ("bme280", Driver.BY_LIBRARY): "hangroom.hardware.i2c_library:open_bme280",
    ("bme280", Driver.KERNEL): "hangroom.hardware.kernel_files:open_bme280",
}


def open_air_sensor(
    *,
    name: str,
    kind: str,
    driver: Driver,
    place: tuple[int, ...],
    read_every_s: float,
    clock: Clock,
) -> ChildSensor:
    """Begin to read a sensor of that kind. `place`: its pin, or its I2C bus and address."""
    return ChildSensor(
        name=name,
        kind=KINDS[kind],
        driver=DRIVERS[kind, driver],
        place=place,
        clock=clock,
        pace=Pace(read_every_s=read_every_s, rest_s=KINDS[kind].rest_s),
    )
