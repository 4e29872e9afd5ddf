"""One air sensor: what it is, where it hangs, who reads it and how often."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from hangroom.sensor_kinds import HEADER_BUS, KINDS, Driver, i2c_address
from hangroom.settings.base import Number, Table, Whole


class SensorTable(Table):
    """One air sensor. One on a GPIO has `pin` (BCM number), one on an I2C bus `bus`, `address`."""

    kind: Literal["dht22", "sht31", "sht45", "bme280"]
    driver: Literal["library", "kernel"] = "library"
    pin: Whole | None = None
    bus: Annotated[Whole, Field(ge=0, le=99)] | None = None
    address: Whole | None = None
    read_every_s: Annotated[Number, Field(ge=2, le=60)] = 6.0

    @model_validator(mode="after")
    def _hangs_where_it_can(self) -> Self:
        faults = list(_place_faults(self.kind, self.pin, self.bus, self.address))
        if faults:
            raise ValueError("\n".join(faults))
        return self

    def read_by(self) -> Driver:
        """Return who reads it."""
        return Driver(self.driver)

    def place_numbers(self) -> tuple[int, ...]:
        """Return its pin (BCM number), or its I2C bus and address."""
        if self.pin is not None:
            return (self.pin,)
        return _i2c(self.kind, self.bus, self.address) or ()

    def place(self) -> str:
        """Return where its wires belong: 'GPIO 4', or 'I2C bus 1, address 0x44'."""
        match self.place_numbers():
            case (bus, address):
                return f"I2C bus {bus}, address {i2c_address(address)}"
            case _:
                return f"GPIO {self.pin}"


def _i2c(kind: str, bus: int | None, address: int | None) -> tuple[int, int] | None:
    addresses = KINDS[kind].addresses
    if not addresses:
        return None
    return HEADER_BUS if bus is None else bus, addresses[0] if address is None else address


def _place_faults(
    kind: str, pin: int | None, bus: int | None, address: int | None
) -> Iterator[str]:
    addresses = KINDS[kind].addresses
    if not addresses:
        if pin is None:
            yield f"a {kind} hangs on a GPIO of its own; add pin, its BCM number"
        for key, value in (("bus", bus), ("address", address)):
            if value is not None:
                yield f"a {kind} hangs on a GPIO and has no {key}; remove it"
        return
    if pin is not None:
        yield (
            f"a {kind} hangs on the I2C bus and has no pin of its own; remove pin "
            "(the header's bus is on GPIO 2 and 3)"
        )
    if address is not None and address not in addresses:
        can_have = [i2c_address(one) for one in addresses]
        known = " or ".join(can_have)
        # A hexadecimal figure typed without its 0x is the usual slip.
        meant = f"0x{address}" if f"0x{address}" in can_have else known
        yield (
            f"address {address} ({i2c_address(address)}) is none that a {kind} can have; write "
            f"address = {meant}" + ("" if meant == known else f" (it can have {known})")
        )


def address_faults(tables: Mapping[str, Any]) -> Iterator[str]:
    """Say which sensors share a bus and an address, over all rooms and the air outside.

    Done on the bare tables, so that a fault elsewhere in the file does not hide these.
    """
    users: dict[tuple[int, int], str] = {}
    for where, sensor in _sensors_in(tables):
        kind, bus, address = (sensor.get(key) for key in ("kind", "bus", "address"))
        if kind not in KINDS or not _whole_or_none(bus) or not _whole_or_none(address):
            continue
        place = _i2c(kind, bus, address)
        if place is None:
            continue
        if place in users:
            others = [one for one in KINDS[kind].addresses if (place[0], one) not in users]
            yield (
                f"{where}: address {i2c_address(place[1])} on bus {place[0]} is already used by "
                f"{users[place]}; "
                + (
                    f"set this sensor's jumper for {i2c_address(others[0])}, or use another bus."
                    if others
                    else "use another bus."
                )
            )
        else:
            users[place] = where


def _sensors_in(tables: Mapping[str, Any]) -> Iterator[tuple[str, Mapping[str, Any]]]:
    rooms = tables.get("room")
    places = [
        (f"room.{name}", table)
        for name, table in (rooms.items() if isinstance(rooms, Mapping) else ())
    ]
    for where, table in [*places, ("outside", tables.get("outside"))]:
        sensors = table.get("sensor") if isinstance(table, Mapping) else None
        for name, sensor in sensors.items() if isinstance(sensors, Mapping) else ():
            if isinstance(sensor, Mapping) and isinstance(sensor.get("kind"), str):
                yield f"{where}.sensor.{name}", sensor


def _whole_or_none(value: object) -> bool:
    return value is None or (isinstance(value, int) and not isinstance(value, bool))
