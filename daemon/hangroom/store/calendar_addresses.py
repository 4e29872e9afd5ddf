"""The secret addresses of the calendar. Owns the table calendar_address; the page writes it.

Whoever has an address may read the calendar and nothing else. Only the SHA-256 of its secret is
kept: 32 random bytes need no slow hash, for nobody can try them all.
"""

import hmac
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from hashlib import sha256

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.checks import check_text
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

SECRET_BYTES = 32
LONGEST_LABEL = 40
# More than a household has phones; few enough to compare with all of them at every fetch.
MOST_ADDRESSES = 20
# How exactly it is kept when an address was last used; a write at every fetch would wear the card.
USED_TO_WITHIN = timedelta(hours=12)


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarAddress:
    """One address that is in use: for whom or what, who made it when, and when it was last read."""

    number: int
    label: str
    made_at: datetime
    made_by: str
    used_at: datetime | None


def new_address(db: Database, *, key: str, label: str, by: str, now: datetime) -> str | None:
    """Store a new address and return its secret, or None where `key` was stored before.

    Raises InputError without a label, or where there are too many.
    """
    label = " ".join(label.split())
    check_text("name of who reads the calendar", label, needed=True, longest=LONGEST_LABEL)
    secret = secrets.token_urlsafe(SECRET_BYTES)
    with durably(db):
        if db.execute("select 1 from calendar_address where key = ?", (key,)).fetchone():
            return None
        if len(addresses(db)) >= MOST_ADDRESSES:
            raise InputError(
                f"There are {MOST_ADDRESSES} addresses already. Revoke one that nobody uses any "
                "more; nothing was stored."
            )
        db.execute(
            "insert into calendar_address (key, secret_sha256, label, made_ms, made_by)"
            " values (?, ?, ?, ?, ?)",
            (key, _hash(secret), label, to_ms(now), by),
        )
    return secret


def addresses(db: Database) -> list[CalendarAddress]:
    """Return the addresses that are not revoked, oldest first."""
    rows = db.execute(
        "select id, label, made_ms, made_by, used_ms from calendar_address"
        " where revoked_ms is null order by id"
    )
    return [
        CalendarAddress(
            number=number,
            label=label,
            made_at=from_ms(made_ms),
            made_by=by,
            used_at=None if used_ms is None else from_ms(used_ms),
        )
        for number, label, made_ms, by, used_ms in rows
    ]


def revoke_address(db: Database, number: int, *, by: str, now: datetime) -> bool:
    """Revoke an address and return True, or False where it is none or was revoked before."""
    with durably(db):
        done = db.execute(
            "update calendar_address set revoked_ms = ?, revoked_by = ?"
            " where id = ? and revoked_ms is null",
            (to_ms(now), by, number),
        )
    return bool(done.rowcount)


def admits(db: Database, secret: str, *, now: datetime) -> bool:
    """Return whether a secret is that of an address in use; note that it was used.

    It is compared with every one of them, whether or not one has matched, each in constant time.
    """
    asked, matched = _hash(secret), None
    rows = db.execute(
        "select id, secret_sha256, used_ms from calendar_address where revoked_ms is null"
    ).fetchall()
    for number, kept, used_ms in rows:
        if hmac.compare_digest(asked, kept):
            matched = number, used_ms
    if matched is None:
        return False
    number, used_ms = matched
    if used_ms is None or abs(now - from_ms(used_ms)) > USED_TO_WITHIN:
        with db.atomic():
            db.execute("update calendar_address set used_ms = ? where id = ?", (to_ms(now), number))
    return True


def _hash(secret: str) -> str:
    return sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()
