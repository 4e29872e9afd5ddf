"""`hangroom passphrase`: the one household passphrase that acting on the page asks for."""

import argparse
import sys
from getpass import getpass

from hangroom.errors import InputError
from hangroom.settings import read_settings
from hangroom_web.access import set_passphrase, write_anew


def run(given: argparse.Namespace) -> int:
    """Ask for a new passphrase (or read one line from a pipe) and store its hash.

    Either way the page forgets all wrong tries, since it sees that the file was written.
    """
    settings = read_settings(given.settings)
    if given.forget_tries:
        write_anew(settings.store.folder)
        print("Wrong tries are forgotten; the passphrase is as it was.")
        return 0
    if sys.stdin.isatty():
        typed = getpass("New passphrase: ")
        if getpass("Once more: ") != typed:
            raise InputError("The two are not the same. Nothing was changed; try again.")
    else:
        typed = sys.stdin.readline().rstrip("\n")
    set_passphrase(settings.store.folder, typed)
    print("The passphrase is set. Everybody has to log in anew.")
    return 0
