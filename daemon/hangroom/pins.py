"""The 28 pins of the Raspberry Pi's 40-pin header: what a relay may hang on, and why not.

The settings check against this table, the wiring notes and drawings are made from it, so that
what is written, drawn and enforced is the same thing.

Sources: pulls at reset from the BCM2835 ARM Peripherals data sheet, table 6-31 (0-8 up, 9-27
down), special functions from the same table and the header's published pin-out. The newest
boards carry another pin controller; its reset table could not be confirmed, which is one more
reason for the external resistor that the wiring notes ask for.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any


class Pull(StrEnum):
    """Which way the chip's own weak resistor (about 50 kohm) pulls a pin after reset."""

    UP = "up"
    DOWN = "down"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """One GPIO: its BCM number, its place on the header, and what else lays claim to it.

    `never` says why no relay may hang on it; None where one may.
    """

    bcm: int
    header: int
    pull_at_reset: Pull
    also: str = ""
    never: str | None = None

    def why_not(self, *, active_high: bool) -> str | None:
        """Why a relay that is closed while the pin is high (or low) may not hang here, or None."""
        if self.never is None and active_high and self.pull_at_reset is Pull.UP:
            return "it is pulled up at reset, which would close the relay each time the Pi starts"
        return self.never


_ID = "it belongs to the identity chip of add-on boards and is driven at start"
_I2C = "a 1.8 kohm resistor on the board holds it up, and the I2C bus uses it"
_UART = "it is the serial console and may be driven high while the Pi starts"

PINS = {
    pin.bcm: pin
    for pin in (
        Pin(bcm=0, header=27, pull_at_reset=Pull.UP, also="add-on board ID", never=_ID),
        Pin(bcm=1, header=28, pull_at_reset=Pull.UP, also="add-on board ID", never=_ID),
        Pin(bcm=2, header=3, pull_at_reset=Pull.UP, also="I2C data", never=_I2C),
        Pin(bcm=3, header=5, pull_at_reset=Pull.UP, also="I2C clock", never=_I2C),
        Pin(bcm=4, header=7, pull_at_reset=Pull.UP, also="1-wire by default"),
        Pin(bcm=5, header=29, pull_at_reset=Pull.UP),
        Pin(bcm=6, header=31, pull_at_reset=Pull.UP),
        Pin(bcm=7, header=26, pull_at_reset=Pull.UP, also="SPI0 select 1"),
        Pin(bcm=8, header=24, pull_at_reset=Pull.UP, also="SPI0 select 0"),
        Pin(bcm=9, header=21, pull_at_reset=Pull.DOWN, also="SPI0 data in"),
        Pin(bcm=10, header=19, pull_at_reset=Pull.DOWN, also="SPI0 data out"),
        Pin(bcm=11, header=23, pull_at_reset=Pull.DOWN, also="SPI0 clock"),
        Pin(bcm=12, header=32, pull_at_reset=Pull.DOWN, also="PWM"),
        Pin(bcm=13, header=33, pull_at_reset=Pull.DOWN, also="PWM"),
        Pin(bcm=14, header=8, pull_at_reset=Pull.DOWN, also="serial out", never=_UART),
        Pin(bcm=15, header=10, pull_at_reset=Pull.DOWN, also="serial in", never=_UART),
        Pin(bcm=16, header=36, pull_at_reset=Pull.DOWN, also="SPI1 select 2"),
        Pin(bcm=17, header=11, pull_at_reset=Pull.DOWN, also="SPI1 select 1"),
        Pin(bcm=18, header=12, pull_at_reset=Pull.DOWN, also="PCM clock, PWM"),
        Pin(bcm=19, header=35, pull_at_reset=Pull.DOWN, also="PCM frame, PWM"),
        Pin(bcm=20, header=38, pull_at_reset=Pull.DOWN, also="PCM data in"),
        Pin(bcm=21, header=40, pull_at_reset=Pull.DOWN, also="PCM data out"),
        Pin(bcm=22, header=15, pull_at_reset=Pull.DOWN),
        Pin(bcm=23, header=16, pull_at_reset=Pull.DOWN),
        Pin(bcm=24, header=18, pull_at_reset=Pull.DOWN),
        Pin(bcm=25, header=22, pull_at_reset=Pull.DOWN),
        Pin(bcm=26, header=37, pull_at_reset=Pull.DOWN),
        Pin(bcm=27, header=13, pull_at_reset=Pull.DOWN),
    )
}


def check_pin(bcm: int, *, active_high: bool, what: str = "relay") -> str | None:
    """Say what is wrong with hanging a relay on this pin (BCM number), or None if nothing is.

    `what`: what it is called, where it is no relay and yet switched like one. Two of them on one
    pin is a fault of the settings as a whole and is looked for there.
    """
    if bcm not in PINS:
        return f"GPIO {bcm} does not exist; the header has GPIO 0 to 27"
    why_not = PINS[bcm].why_not(active_high=active_high)
    if why_not is None:
        return None
    kind = f"an active-high {what}" if active_high else f"a {what}"
    why_not = why_not.replace("the relay", f"the {what}")
    free = ", ".join(str(other) for other in free_pins(active_high=active_high))
    return f"GPIO {bcm} cannot carry {kind}: {why_not}; use one of {free}"


def free_pins(*, active_high: bool) -> tuple[int, ...]:
    """The pins (BCM numbers) to advise for a relay: allowed, and its off level held at reset.

    Pins that a bus or another function commonly uses are left out.
    """
    off_pull = Pull.DOWN if active_high else Pull.UP
    return tuple(
        pin.bcm
        for pin in PINS.values()
        if pin.never is None and not pin.also and pin.pull_at_reset is off_pull
    )


# The tables in [bell] that have a pin.
BELL_PARTS = ("buzzer", "lamp", "button")


def wired_pins(tables: Mapping[str, Any]) -> Iterator[tuple[str, int, bool | None]]:
    """Yield (where, BCM number, active high) of every pin in a settings file's bare tables.

    Active high is None for what is only read, a sensor or a button. What has another form than it
    should is passed over, so that the pins can be checked, and switched off, in a file that has
    faults elsewhere.
    """
    rooms = tables.get("room")
    for room, table in rooms.items() if isinstance(rooms, Mapping) else ():
        for group in ("sensor", "relay"):
            yield from _wired_in(table, f"room.{room}", group)
    yield from _wired_in(tables.get("outside"), "outside", "sensor")
    bell = tables.get("bell")
    for name, part in bell.items() if isinstance(bell, Mapping) else ():
        if name in BELL_PARTS:
            yield from _wired_part(part, f"bell.{name}", switched=name != "button")


def _wired_in(table: object, where: str, group: str) -> Iterator[tuple[str, int, bool | None]]:
    parts = table.get(group) if isinstance(table, Mapping) else None
    for name, part in parts.items() if isinstance(parts, Mapping) else ():
        yield from _wired_part(part, f"{where}.{group}.{name}", switched=group == "relay")


def _wired_part(
    part: object, where: str, *, switched: bool
) -> Iterator[tuple[str, int, bool | None]]:
    pin = part.get("pin") if isinstance(part, Mapping) else None
    if isinstance(part, Mapping) and isinstance(pin, int) and not isinstance(pin, bool):
        yield where, pin, part.get("active_high", True) if switched else None
