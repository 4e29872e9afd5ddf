"""The household passphrase: who may act. Looking is open to everybody on the network.

One file, readable by its owner alone, holds the passphrase's scrypt hash and the key that signs
session cookies. Whoever changes the passphrase logs everybody out, because a session names the
hash it was opened with.
"""

import json
import os
import secrets
from collections import OrderedDict
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path
from threading import Lock

from werkzeug.security import check_password_hash, generate_password_hash

from hangroom.errors import InputError, StoreError
from hangroom_web.words import _

FILE_NAME = "access.json"
SHORTEST_PASSPHRASE = 8

# scrypt with 32 MB for one check: one at a time, or a few guesses at once fill a small Pi.
METHOD = "scrypt:32768:8:1"
_one_check = Lock()


@dataclass(frozen=True, slots=True, kw_only=True)
class Access:
    """What `access.json` holds; `passphrase_hash` is None until one is set."""

    session_key: str
    passphrase_hash: str | None = None

    @property
    def mark(self) -> str:
        """What a session carries to show that it was opened with the present passphrase."""
        return sha256((self.passphrase_hash or "").encode()).hexdigest()[:16]

    def admits(self, passphrase: str) -> bool:
        """Return whether this is the household's passphrase; slow on purpose."""
        if self.passphrase_hash is None:
            return False
        with _one_check:
            return check_password_hash(self.passphrase_hash, passphrase)


def access(folder: Path) -> Access:
    """Return what is stored, made with a fresh session key the first time; StoreError if it cannot.

    A damaged file is an error and not an invitation to choose a new passphrase.
    """
    path = folder / FILE_NAME
    try:
        return Access(**json.loads(path.read_text(encoding="utf-8")))
    except FileNotFoundError:
        fresh = Access(session_key=secrets.token_hex(32))
        _write(path, fresh)
        return fresh
    except (OSError, ValueError, TypeError) as fault:
        raise StoreError(
            _(
                "{path} cannot be read ({fault}). Nobody can log in. Give the page's user access "
                "to it, or remove it and run `hangroom passphrase`."
            ).format(path=path, fault=fault)
        ) from fault


def set_passphrase(folder: Path, passphrase: str) -> None:
    """Store a new passphrase's hash; InputError where it is too short, StoreError if it cannot."""
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise InputError(
            _(
                "A passphrase needs at least {least} characters. Four plain words make a good one. "
                "Nothing was changed."
            ).format(least=SHORTEST_PASSPHRASE)
        )
    _write(
        folder / FILE_NAME,
        Access(
            session_key=access(folder).session_key,
            passphrase_hash=generate_password_hash(passphrase, method=METHOD),
        ),
    )


def _write(path: Path, held: Access) -> None:
    fresh = path.with_suffix(".new")
    try:
        fresh.unlink(missing_ok=True)
        descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w", encoding="utf-8") as file:
            json.dump(asdict(held), file)
            file.flush()
            os.fsync(file.fileno())
        if os.geteuid() == 0:
            # Set up by root, read by the service's own user: it goes to whoever owns the folder.
            owner = path.parent.stat()
            os.chown(fresh, owner.st_uid, owner.st_gid)
        fresh.replace(path)
    except OSError as fault:
        raise StoreError(
            _(
                "{path} cannot be written ({fault}). Give the user that runs hangroom write access "
                "to the folder."
            ).format(path=path, fault=fault)
        ) from fault


class Throttle:
    """Slows guessing down: after a few wrong tries each next one has to wait, at most 15 min.

    It never locks for good. Held in memory: a restart forgets it, which costs a guesser more
    than it gives. Moments are monotonic seconds.
    """

    def __init__(self, *, free_tries: int, most_addresses: int = 256) -> None:
        self._free_tries = free_tries
        self._most_addresses = most_addresses
        self._tries: OrderedDict[str, tuple[int, float]] = OrderedDict()
        self._lock = Lock()

    def wait_s(self, address: str, *, uptime_s: float) -> float:
        """Return how long this address still has to wait before its next try, s."""
        with self._lock:
            _count, free_again_s = self._tries.get(address, (0, 0.0))
        return max(0.0, free_again_s - uptime_s)

    def failed(self, address: str, *, uptime_s: float) -> None:
        """Count a wrong try."""
        with self._lock:
            count = self._tries.pop(address, (0, 0.0))[0] + 1
            over = count - self._free_tries
            wait_s = min(30.0 * 2.0 ** min(over, 5), 900.0) if over >= 0 else 0.0
            self._tries[address] = (count, uptime_s + wait_s)
            if len(self._tries) > self._most_addresses:
                self._tries.popitem(last=False)

    def succeeded(self, address: str) -> None:
        """Forget the wrong tries of an address."""
        with self._lock:
            self._tries.pop(address, None)
