"""Every configured relay to its off level, now: for `hangroom safe` and for a daemon that died.

On Raspberry Pi OS the kernel keeps a pin driven after the process that set it has gone, so a
killed daemon leaves its relays as they were. This runs after it, in its own process, and needs
lgpio only. The released pin then stays at the off level, or, with the strict_gpiod setting,
becomes an input and falls to the external resistor.
"""

from collections.abc import Iterable
from pathlib import Path

from hangroom.errors import HardwareError
from hangroom.hardware.chips import header_chip, load_lgpio


def relays_off(relays: Iterable[tuple[int, bool]], devices: Path = Path("/dev")) -> None:
    """Drive each relay, given as (BCM pin, active high), to its off level.

    Every pin is tried, whatever happens to the others. Raises HardwareError at the end, naming
    the pins that could not be driven.
    """
    lgpio = load_lgpio()
    handle = lgpio.gpiochip_open(header_chip(lgpio, devices))
    failed = []
    for pin, active_high in relays:
        try:
            lgpio.gpio_claim_output(handle, pin, 0 if active_high else 1)
        except lgpio.error as error:
            failed.append(f"GPIO {pin} ({error})")
    lgpio.gpiochip_close(handle)
    if failed:
        raise HardwareError(
            f"Not switched off: {', '.join(failed)}; the others are off. If a pin is busy, the "
            "daemon still holds it: sudo systemctl stop hangroom-daemon switches every relay off. "
            "If that does not help, pull the plug of the load."
        )
