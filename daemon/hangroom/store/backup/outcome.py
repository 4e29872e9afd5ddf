"""How the last backup went: `backup.json` beside the database, by `hangroom backup` alone.

Not a table: it must be told too when the database is what failed, and a restore must not bring the
news of an older day back.
"""

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from pydantic import AwareDatetime, TypeAdapter, ValidationError

FILE = "backup.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class Good:
    """A backup that was read back whole: where it lies, its size in bytes, what is in it."""

    made_at: AwareDatetime
    folder: str
    file: str
    size: int
    batches: int
    photos: int
    lacking: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """The last good backup, and why the last try failed, '' where it did not."""

    good: Good | None = None
    failed_at: AwareDatetime | None = None
    fault: str = ""


_FORM = TypeAdapter(Outcome)


def read_outcome(folder: Path) -> Outcome:
    """Return how it went; an empty one where nothing that can be read tells."""
    try:
        return _FORM.validate_json((folder / FILE).read_bytes())
    except (OSError, ValidationError):
        return Outcome()


def write_outcome(folder: Path, outcome: Outcome) -> None:
    """Keep how it went, readable for the page's user; OSError where the disk does not take it."""
    fresh = folder / f"{FILE}.new"
    with suppress(FileNotFoundError):
        fresh.unlink()
    descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o640)
    with os.fdopen(descriptor, "wb") as out:
        out.write(_FORM.dump_json(outcome))
        out.flush()
        os.fsync(out.fileno())
    fresh.replace(folder / FILE)
