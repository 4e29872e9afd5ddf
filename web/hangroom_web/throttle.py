"""Guessing is slowed down: by whom it comes from, and all of it together. Never locked for good."""

from collections import OrderedDict
from dataclasses import dataclass
from ipaddress import IPv6Address, ip_address
from threading import Lock

# Waits of 30 s, doubled with each wrong try, up to a quarter of an hour.
FIRST_WAIT_S, LONGEST_WAIT_S = 30.0, 900.0
# After so long without a wrong try, earlier ones are forgotten.
FORGOTTEN_AFTER_S = 3600.0
# A household's own slips do not add up to this; a guesser with many addresses does at once.
FREE_TRIES_OF_ALL = 20
# How many bits of an IPv6 address name a household; the rest its devices choose as they like
# (RFC 8981: temporary addresses).
IPV6_PREFIX_BITS = 64

EVERYBODY = ""


@dataclass(frozen=True, slots=True)
class _Tries:
    count: int = 0
    last_s: float = 0.0
    free_again_s: float = 0.0


class Throttle:
    """Counts wrong tries by address and over all addresses; each past the free ones has to wait.

    A browser that was let in before is counted by itself (`known`, its mark): nobody elsewhere can
    make it wait (OWASP: device cookies). Held in memory: a restart forgets it, which costs a
    guesser more than it gives. Moments are monotonic seconds.
    """

    def __init__(
        self,
        *,
        free_tries: int,
        free_tries_of_all: int = FREE_TRIES_OF_ALL,
        most_addresses: int = 256,
    ) -> None:
        self._free = free_tries
        self._free_of_all = free_tries_of_all
        self._most_addresses = most_addresses
        self._tries: OrderedDict[str, _Tries] = OrderedDict()
        self._edition: object = None
        self._lock = Lock()

    def forget_if_new(self, edition: object) -> None:
        """Forget all tries where what is guessed at is another one, or was written anew."""
        with self._lock:
            if edition != self._edition:
                self._tries.clear()
                self._edition = edition

    def try_after_s(self, address: str, *, uptime_s: float, known: str = "") -> float:
        """Return how long the next try still has to wait, s; at 0 it is counted as a wrong one.

        Counted before it is looked at: many at once get no more tries than one after another.
        """
        with self._lock:
            whose = self._whose(address, known)
            wait_s = max(self._of(key, uptime_s).free_again_s - uptime_s for key in whose)
            if wait_s > 0:
                return wait_s
            for key, free in whose.items():
                self._count(key, free, uptime_s)
            return 0.0

    def succeeded(self, address: str, *, known: str = "") -> None:
        """Forget the wrong tries of an address or a known browser, and take back the last of all's.

        The others' stay: who guesses among people who log in is slowed down all the same.
        """
        with self._lock:
            for key in self._whose(address, known):
                tries = self._tries.pop(key, None)
                if key == EVERYBODY and tries is not None and tries.count > 1:
                    self._tries[key] = _Tries(tries.count - 1, tries.last_s)

    def _whose(self, address: str, known: str) -> dict[str, int]:
        """Return the keys that a try is counted under, with their free tries."""
        if known:
            return {f"known {known}": self._free}
        return {f"from {_household(address)}": self._free, EVERYBODY: self._free_of_all}

    def _of(self, key: str, uptime_s: float) -> _Tries:
        tries = self._tries.get(key, _Tries())
        over = uptime_s - max(tries.last_s, tries.free_again_s) > FORGOTTEN_AFTER_S
        return _Tries() if over else tries

    def _count(self, key: str, free: int, uptime_s: float) -> None:
        count = self._of(key, uptime_s).count + 1
        over = count - free
        wait_s = min(FIRST_WAIT_S * 2.0 ** min(over, 5), LONGEST_WAIT_S) if over >= 0 else 0.0
        self._tries.pop(key, None)
        self._tries[key] = _Tries(count, uptime_s, uptime_s + wait_s)
        if len(self._tries) > self._most_addresses:
            # The oldest, but never what holds for all.
            self._tries.pop(next(key for key in self._tries if key != EVERYBODY))


def _household(address: str) -> str:
    try:
        known = ip_address(address)
    except ValueError:
        return address
    if not isinstance(known, IPv6Address):
        return str(known)
    if known.ipv4_mapped is not None:
        return str(known.ipv4_mapped)
    return f"{int(known) >> (128 - IPV6_PREFIX_BITS):x}"
