"""`hangroom passphrase`: the one household passphrase that acting on the page asks for."""

import argparse
import sys
from getpass import getpass

from hangroom.errors import InputError
from hangroom.settings import read_settings
from hangroom_web.access import SHORTEST_PASSPHRASE, set_passphrase


def run(given: argparse.Namespace) -> int:
    """Ask for a new passphrase (or read one line from a pipe) and store its hash."""
    settings = read_settings(given.settings)
    if sys.stdin.isatty():
        typed = getpass("New passphrase: ")
        if getpass("Once more: ") != typed:
            raise InputError("The two are not the same. Nothing was changed; try again.")
    else:
        typed = sys.stdin.readline().rstrip("\n")
    if len(typed) < SHORTEST_PASSPHRASE:
        raise InputError(f"Take at least {SHORTEST_PASSPHRASE} characters. Nothing was changed.")
    set_passphrase(settings.store.folder, typed)
    print("The passphrase is set. Everybody has to log in anew.")
    return 0
