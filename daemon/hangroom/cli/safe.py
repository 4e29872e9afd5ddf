"""`hangroom safe`: every configured relay to its safe state, needing nothing but the settings.

It reads the bare file, so that it is quick and works with settings that have become faulty: the
service manager calls it when the daemon has died, whatever it died of.
"""

import argparse
import tomllib

from hangroom.errors import SettingsError
from hangroom.hardware.off_script import relays_off
from hangroom.pins import wired_pins


def run(given: argparse.Namespace) -> int:
    """Drive every relay of every room, and the bell, to its off level."""
    try:
        tables = tomllib.loads(given.settings.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as fault:
        raise SettingsError(
            [f"{given.settings} cannot be read ({fault}). Pull the loads' plugs, then mend it."]
        ) from None
    outputs = [(where, pin, high) for where, pin, high in wired_pins(tables) if high is not None]
    relays_off((pin, high) for _, pin, high in outputs)
    relays = [where for where, _, _ in outputs if not where.startswith("bell.")]
    bell = " The bell is silent." if len(relays) < len(outputs) else ""
    print(f"{len(relays)} relays are off.{bell}")
    return 0
