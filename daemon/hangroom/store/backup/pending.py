"""A backup that the page has laid ready, for the next start to put in place before all services.

The page cannot exchange the records under a controller that runs, so it only leaves the file; it is
taken up once, whatever comes of it, so that a bad one does not come back at each start.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

ASKED = ".restore-asked.zip"
PENDING = "restore-pending.zip"
TAKEN = ".restore-taken.zip"
REFUSED = "restore-refused.zip"


def lay_ready(folder: Path) -> bool:
    """Let the file that was looked at wait for the next start; False where there is none."""
    try:
        (folder / ASKED).replace(folder / PENDING)
    except FileNotFoundError:
        return False
    return True


def forget(folder: Path) -> None:
    """Remove what was laid ready, and what was refused."""
    for name in (ASKED, PENDING, REFUSED):
        (folder / name).unlink(missing_ok=True)


@contextmanager
def taken_up(folder: Path) -> Iterator[Path | None]:
    """Give the file that was laid ready, None where none was; one that fails bears another name."""
    taken = folder / TAKEN
    try:
        (folder / PENDING).replace(taken)
    except FileNotFoundError:
        yield None
        return
    try:
        yield taken
    except BaseException:
        with suppress(OSError):
            taken.replace(folder / REFUSED)
        raise
    taken.unlink(missing_ok=True)
