"""lgpio, checked before use, and the GPIO chip that the header hangs on.

Shared by the daemon's relays and the off path; imports nothing heavy.
"""

import importlib
import os
import re
from pathlib import Path
from types import ModuleType

from hangroom.errors import HardwareError

# The header's pin controller by board: newest, fourth, and earlier generations. Kernels have
# renumbered the chips more than once; the label is what stays.
HEADER_LABELS = ("pinctrl-rp1", "pinctrl-bcm2711", "pinctrl-bcm2835")


def load_lgpio() -> ModuleType:
    """Import lgpio. Raises HardwareError, with what to do, where it is missing or unusable.

    Importing it moves the process into the folder named by LG_WD: resolve relative paths first.
    """
    folder = Path(os.environ.get("LG_WD", "."))
    if not os.access(folder, os.W_OK):
        raise HardwareError(
            f"lgpio keeps a pipe in its working folder and cannot write to {folder.absolute()}, so "
            "no relay can be driven. Set LG_WD to a folder this user can write to; the service "
            "uses /run/hangroom."
        )
    try:
        lgpio = importlib.import_module("lgpio")
    except ImportError as error:
        raise HardwareError(
            f"The GPIO library lgpio cannot be loaded ({error}), so no relay can be driven. "
            "On Raspberry Pi OS: sudo apt install python3-lgpio, and make the virtual environment "
            "with --system-site-packages."
        ) from error
    if not hasattr(lgpio, "gpio_claim_output"):
        raise HardwareError(
            "The installed lgpio is an empty stub (the package index serves it to Python versions "
            "without a ready-made build), so no relay can be driven. Remove it with pip uninstall "
            "lgpio, then: sudo apt install python3-lgpio, and make the virtual environment with "
            "--system-site-packages."
        )
    return lgpio


def header_chip(lgpio: ModuleType, devices: Path = Path("/dev")) -> int:
    """Find the number of the header's GPIO chip by its label. Raises HardwareError if none is."""
    numbers = sorted(
        int(found.group(1))
        for file in devices.glob("gpiochip*")
        if (found := re.fullmatch(r"gpiochip(\d+)", file.name))
    )
    seen = []
    for number in numbers:
        try:
            handle = lgpio.gpiochip_open(number)
        except lgpio.error as error:
            seen.append(f"gpiochip{number}: {error}")
            continue
        _status, _lines, _name, label = lgpio.gpio_get_chip_info(handle)
        lgpio.gpiochip_close(handle)
        if label in HEADER_LABELS:
            return number
        seen.append(f"gpiochip{number}: {label}")
    raise HardwareError(
        "No GPIO chip of a Raspberry Pi header was found, so no relay can be driven. "
        f"Looked for {', '.join(HEADER_LABELS)}; seen: {'; '.join(seen) or 'no chip at all'}. "
        "On a Pi, check that this user is in the group gpio. Elsewhere, try: hangroom demo"
    )
