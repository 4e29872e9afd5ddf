"""Choosing the household passphrase from the page: with a code that only the machine's log tells.

Whoever is first on the network could otherwise choose it. The code is printed by the page's own
process, which owns the passphrase's file: on the terminal, or in the service's journal, which only
the machine's administrators read.
"""

import secrets
import sys
from collections.abc import Callable
from hmac import compare_digest
from threading import Lock

from hangroom_web.words import _

# Letters of a code that somebody types: no vowels, so no words; no digits, so nothing to mix up.
# Source: RFC 8628, section 6.1, with its eight letters in two halves: 34.5 bits.
LETTERS = "BCDFGHJKLMNPQRSTVWXZ"
LONG = 8
HOLDS_FOR_S = 3600.0

SAID = _(
    "No passphrase is set yet. To choose one, open the page, Log in, and type this code: {code}\n"
    "It holds for an hour and once; the page makes another when it is asked for one after that.\n"
    "Or run: hangroom passphrase --settings FILE"
)


def print_code(said: str) -> None:
    """Print it where only whoever has the machine looks: terminal or journal, never a log file."""
    sys.stderr.write(f"{said}\n")
    sys.stderr.flush()


class FirstRun:
    """The one code that holds at a time; moments are monotonic seconds."""

    def __init__(self, tell: Callable[[str], None]) -> None:
        self._tell = tell
        self._code = ""
        self._until_s = 0.0
        self._lock = Lock()

    def offer(self, *, uptime_s: float) -> None:
        """Make a code and tell it, unless one holds: nobody who asks can make that one void."""
        with self._lock:
            if not self._holds(uptime_s):
                letters = "".join(secrets.choice(LETTERS) for _letter in range(LONG))
                self._code, self._until_s = letters, uptime_s + HOLDS_FOR_S
                half = LONG // 2
                self._tell(SAID.format(code=f"{letters[:half]}-{letters[half:]}"))

    def admits(self, typed: str, *, uptime_s: float) -> bool:
        """Return whether this is the code that holds; small letters and hyphens do not matter."""
        plain = "".join(letter for letter in typed.upper() if letter in LETTERS)
        with self._lock:
            return self._holds(uptime_s) and compare_digest(plain, self._code)

    def spent(self) -> None:
        """Let the code hold no more."""
        with self._lock:
            self._code = ""

    def _holds(self, uptime_s: float) -> bool:
        return bool(self._code) and uptime_s < self._until_s
