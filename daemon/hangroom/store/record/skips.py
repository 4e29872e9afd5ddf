"""Sticks that could not be weighed at a look, and why: looks whose key names the stick.

A look is of a group and has no column for a stick, so the key carries which one and the reason; it
goes wherever the look goes, through correction, export and import. Owns no table.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from hashlib import sha256

from sqlite_utils import Database

from hangroom.store.moments import from_ms

_PREFIX = "skip-"
# Tells the looks at a group from these, in a query.
NO_SKIP = f"key not glob '{_PREFIX}*'"
_SENT_KEPT = 32


class SkipReason(StrEnum):
    """Why a stick was not weighed."""

    FELL = "fell"
    CUT = "cut"
    PULLED = "pulled"


# A stick that fell may hang again tomorrow; one that was cut open or pulled weighs no more.
FOR_GOOD = frozenset({SkipReason.CUT, SkipReason.PULLED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Skip:
    """A stick that was not weighed; `key` is that of the look that says so."""

    tag: str
    reason: SkipReason
    at: datetime
    entered_at: datetime
    key: str


def skip_key(tag: str, reason: SkipReason, *, sent: str) -> str:
    """Return the key of the look that says so; `sent` is the key that the form brought."""
    return f"{_PREFIX}{reason}-{sha256(sent.encode()).hexdigest()[:_SENT_KEPT]}-{tag}"


def newest_skips(db: Database) -> Mapping[str, Skip]:
    """Return the newest skip of each stick that has one which was not struck out, by its tag."""
    rows = db.execute(
        f"select key, taken_ms, entered_ms from look where key glob '{_PREFIX}*'"  # noqa: S608 - our own
        " and struck_ms is null order by taken_ms, id"
    )
    found = {}
    for key, taken_ms, entered_ms in rows:
        reason, _sent, tag = key.removeprefix(_PREFIX).split("-", 2)
        found[tag] = Skip(
            tag=tag,
            reason=SkipReason(reason),
            at=from_ms(taken_ms),
            entered_at=from_ms(entered_ms),
            key=key,
        )
    return found
