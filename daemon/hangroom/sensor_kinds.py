"""The kinds of air sensor there are: where each hangs, what it can report, how it can be read.

The settings check against this table and the hardware is opened by it.

Sources: the makers' data sheets (AM2302; SHT3x-DIS; SHT4x; BME280). Addresses also as in the Linux
kernel's Documentation/hwmon/sht3x.rst and the Raspberry Pi's overlay i2c-sensor; those of the SHT4x
beyond 0x44, and the warmest the BME280 and the SHTs can report, from memory.
"""

from dataclasses import dataclass
from enum import StrEnum


class Driver(StrEnum):
    """Who reads it: a Python library, or the kernel, which shows it as plain files."""

    BY_LIBRARY = "library"
    KERNEL = "kernel"


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorKind:
    """One kind: its I2C addresses, the usual one first, none for one on a GPIO of its own.

    `coldest_c` and `warmest_c`: what it can report. `rest_s`: the shortest pause between two reads.
    """

    addresses: tuple[int, ...] = ()
    coldest_c: float = -40.0
    warmest_c: float
    rest_s: float


# The AM2302's data sheet asks for two seconds, and one that is read earlier may give its previous
# values; the kernel's dht11 and sht4x drivers hand out the previous ones for just as long.
KINDS = {
    "dht22": SensorKind(warmest_c=80.0, rest_s=2.1),
    "sht31": SensorKind(addresses=(0x44, 0x45), warmest_c=125.0, rest_s=1.0),
    "sht45": SensorKind(addresses=(0x44, 0x45, 0x46), warmest_c=125.0, rest_s=2.1),
    # Read more often it warms itself, and then reads too dry.
    "bme280": SensorKind(addresses=(0x76, 0x77), warmest_c=85.0, rest_s=2.1),
}

# The bus on pins 3 and 5 of the header.
HEADER_BUS = 1


def i2c_address(address: int) -> str:
    """Return it as data sheets and i2cdetect write it: 0x44."""
    return f"0x{address:02x}"
