"""The household passphrase: who may act.

One file, readable by its owner alone, holds the passphrase's scrypt hash and the key that signs
session cookies. Whoever changes the passphrase logs everybody out, because a session names the
hash it was opened with.
"""

import json
import os
import secrets
from dataclasses import asdict, dataclass
from hashlib import sha256
from pathlib import Path
from threading import Lock

from werkzeug.security import check_password_hash, generate_password_hash

from hangroom.errors import InputError, StoreError
from hangroom_web.words import _

FILE_NAME = "access.json"
SHORTEST_PASSPHRASE, LONGEST_PASSPHRASE = 8, 200

# scrypt with 32 MB for one check: one at a time, or a few guesses at once fill a small Pi.
METHOD = "scrypt:32768:8:1"
_one_check = Lock()
_one_writer = Lock()


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


def edition(folder: Path) -> tuple[int, int]:
    """Return what is another one each time the file is written; zeros where there is none."""
    try:
        found = (folder / FILE_NAME).stat()
    except OSError:
        return 0, 0
    return found.st_ino, found.st_mtime_ns


def write_anew(folder: Path) -> None:
    """Write the same once more: the page then forgets all wrong tries; StoreError if it cannot."""
    _write(folder / FILE_NAME, access(folder))


def set_first_passphrase(folder: Path, passphrase: str) -> bool:
    """Do as `set_passphrase` and return True; False, and nothing done, where one is set already."""
    with _one_writer:
        if access(folder).passphrase_hash is not None:
            return False
        set_passphrase(folder, passphrase)
        return True


def check_passphrase(passphrase: str) -> None:
    """Raise InputError for one that is too short or too long."""
    if len(passphrase) < SHORTEST_PASSPHRASE:
        raise InputError(
            _(
                "A passphrase needs at least {least} characters. Four plain words make a good one. "
                "Nothing was changed."
            ).format(least=SHORTEST_PASSPHRASE)
        )
    if len(passphrase) > LONGEST_PASSPHRASE:
        raise InputError(
            _("A passphrase may have {most} characters. Nothing was changed.").format(
                most=LONGEST_PASSPHRASE
            )
        )


def set_passphrase(folder: Path, passphrase: str) -> None:
    """Store a new passphrase's hash; InputError where it is no good, StoreError if it cannot."""
    check_passphrase(passphrase)
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
