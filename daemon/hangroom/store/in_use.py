"""Who works in the database's folder: held as long as a process lives, so that none is surprised.

A lock of the kernel on an empty file for each kind of process. It goes with the process, however
that ends; a file that is left behind says nothing.
"""

import fcntl
import os
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from hangroom.errors import StoreError

# By name: what it is, and what ends it.
USERS: Mapping[str, tuple[str, str]] = {
    "daemon": ("the controller", "sudo systemctl stop hangroom-daemon"),
    "web": ("the page", "sudo systemctl stop hangroom-web"),
    "notices": ("the notices", "sudo systemctl stop hangroom-notices"),
    "backup": ("a backup", "wait until it is made"),
}

SHARED = 0o660


@contextmanager
def in_use(folder: Path, by: str) -> Iterator[None]:
    """Say that a process of this kind works in the folder, until the block ends.

    Waits while a backup is being put back there. Where no lock can be had it goes on without: that
    keeps nobody from their work.
    """
    with ExitStack() as held:
        with suppress(OSError):
            fcntl.flock(held.enter_context(_opened(folder, by)), fcntl.LOCK_SH)
        yield


@contextmanager
def alone(folder: Path, *, doing: str, users: tuple[str, ...] = tuple(USERS)) -> Iterator[None]:
    """Keep these kinds of process out of the folder until the block ends.

    Raises StoreError, naming those that work there and how to stop them.
    """
    with ExitStack() as held:
        busy = []
        for user in users:
            try:
                fcntl.flock(
                    held.enter_context(_opened(folder, user)), fcntl.LOCK_EX | fcntl.LOCK_NB
                )
            except BlockingIOError:
                busy.append(user)
            except OSError as fault:
                raise StoreError(
                    f"{folder} cannot be locked ({fault.strerror}). Run this as the user that runs "
                    "hangroom, or as root."
                ) from fault
        if not busy and set(users) == set(USERS):
            # Who starts brings the database to its shape before saying that it works here.
            fcntl.flock(held.enter_context(_folder(folder)), fcntl.LOCK_EX)
        if busy:
            who = ", ".join(USERS[user][0] for user in busy)
            end = "\n".join(f"  {USERS[user][1]}" for user in busy)
            raise StoreError(
                f"At work in {folder}: {who}. So {doing}; nothing was changed. First:\n{end}\n"
                "Where that was started otherwise, for example by `hangroom demo`, end it there."
            )
        yield


@contextmanager
def _opened(folder: Path, user: str) -> Iterator[int]:
    descriptor = os.open(folder / f".in-use-{user}", os.O_RDONLY | os.O_CREAT, SHARED)
    # For the group too, whoever came first and with what umask: daemon and page are two users.
    with suppress(PermissionError):
        os.fchmod(descriptor, SHARED)
    try:
        yield descriptor
    finally:
        os.close(descriptor)


@contextmanager
def _folder(folder: Path) -> Iterator[int]:
    """Open what `hangroom.store.database.prepare_database` locks while it is at it."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        yield descriptor
    finally:
        os.close(descriptor)
