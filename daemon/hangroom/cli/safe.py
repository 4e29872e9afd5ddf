"""`hangroom safe`: every configured relay to its safe state, needing nothing but the settings."""

import argparse

from hangroom.hardware.off_script import relays_off
from hangroom.settings import read_settings


def run(given: argparse.Namespace) -> int:
    """Drive every relay of every room to its off level."""
    settings = read_settings(given.settings)
    relays = [relay for room in settings.room.values() for relay in room.relay.values()]
    relays_off((relay.pin, relay.active_high) for relay in relays)
    print(f"{len(relays)} relays are off.")
    return 0
