"""The pin factory, chosen once and by name; there is no fall-back to another."""

import importlib
from pathlib import Path

from gpiozero.exc import GPIOZeroError
from gpiozero.pins import Factory

from hangroom.errors import HardwareError
from hangroom.hardware.chips import header_chip, load_lgpio


def lgpio_factory(devices: Path = Path("/dev")) -> Factory:
    """Open the header's GPIO chip through gpiozero on lgpio. Raises HardwareError."""
    lgpio = load_lgpio()
    chip = header_chip(lgpio, devices)
    lgpio_pins = importlib.import_module("hangroom.hardware.lgpio_pins")
    try:
        factory: Factory = lgpio_pins.RelayPinFactory(chip)
        factory.board_info  # noqa: B018 - reads the board's revision now rather than at a pin
    except (GPIOZeroError, lgpio.error, OSError) as error:
        raise HardwareError(
            f"gpiochip{chip} cannot be used ({error}), so no relay can be driven. "
            "Check that this user is in the group gpio and that the board is a Raspberry Pi."
        ) from error
    return factory
