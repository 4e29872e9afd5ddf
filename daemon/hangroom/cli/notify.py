"""`hangroom notify --test`: a test message on every channel, now, and what came of each."""

import argparse

from hangroom.cli.notices import house_of
from hangroom.errors import InputError
from hangroom.hardware.clock import SystemClock
from hangroom.notices.channels import read_channels
from hangroom.notices.desk import send_tests
from hangroom.notices.sending import Carrier
from hangroom.notices.wording import letter_for_a_test
from hangroom.settings import read_settings


def run(given: argparse.Namespace) -> int:
    """Send, print one line per channel; 1 where any did not take it."""
    settings = read_settings(given.settings)
    if not given.test:
        raise InputError("Say what to send: hangroom notify --test --settings FILE")
    file = settings.notices.channels_file
    if file is None:
        raise InputError(
            "No channel is set up: the settings name no notices.channels_file. The README shows"
            " one. Nothing was sent."
        )
    addresses = read_channels(file)
    names = [channel.name for channel in addresses.channels]
    if given.channel and given.channel not in names:
        raise InputError(
            f"There is no channel {given.channel!r}. There are: {', '.join(names) or 'none'}."
            " Nothing was sent."
        )
    if not names:
        raise InputError(f"{file} has no channel. The README shows one. Nothing was sent.")
    letter = letter_for_a_test(house_of(settings), asked_by="", at=SystemClock().now())
    only = (given.channel,) if given.channel else ()
    said = send_tests(addresses, Carrier(), letter=letter, only=only)
    for name, why in said.items():
        print(f"{name}: {f'not delivered. {why}' if why else 'delivered'}")
    return 1 if any(said.values()) else 0
