"""`hangroom passphrase`: the one household passphrase that acting on the page asks for."""

import argparse
import sys
from getpass import getpass

from hangroom.errors import InputError
from hangroom.settings import read_settings

SHORTEST = 8


def run(given: argparse.Namespace) -> int:
    """Ask for a new passphrase (or read one line from a pipe) and store its hash."""
    # Imported here: the daemon's own command must not load the page's libraries.
    from hangroom_web.access import set_passphrase  # noqa: PLC0415

    settings = read_settings(given.settings)
    if sys.stdin.isatty():
        typed = getpass("New passphrase: ")
        if getpass("Once more: ") != typed:
            raise InputError("The two are not the same. Nothing was changed; try again.")
    else:
        typed = sys.stdin.readline().rstrip("\n")
    if len(typed) < SHORTEST:
        raise InputError(f"Take at least {SHORTEST} characters. Nothing was changed.")
    set_passphrase(settings.store.folder, typed)
    print("The passphrase is set. Whoever was logged in stays so.")
    return 0
