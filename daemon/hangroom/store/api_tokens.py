"""Tokens by which other programs ask and act: the table api_token, which the page writes.

A token is 32 random bytes, shown once; kept is its SHA-256. That is enough for random bytes: what
slow hashes guard are words that somebody can guess.
"""

import secrets
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from hashlib import sha256
from hmac import compare_digest

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.checks import check_text
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

TOKEN_BYTES = 32
LONGEST_NAME = 40
MOST_TOKENS = 50

# The last use is told by the day: a program that asks every ten seconds must not wear the card.
USE_NOTED_EVERY = timedelta(hours=1)


class Scope(StrEnum):
    """What a token may do."""

    READ = "read"
    WRITE = "write"
    CONTROL = "control"


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiToken:
    """A token without its secret; `used_at` is right to the hour, None where it never was."""

    number: int
    name: str
    scopes: frozenset[Scope]
    made_at: datetime
    made_by: str
    used_at: datetime | None


def new_token(
    db: Database, *, key: str, name: str, scopes: Collection[Scope], by: str, now: datetime
) -> str | None:
    """Make a token and return it, this once; None where the same `key` made one before.

    Raises InputError for no name, no scope, or too many tokens.
    """
    check_text("name", name, needed=True, longest=LONGEST_NAME)
    if not scopes:
        raise InputError("Say what the token may do: read, write or control. Nothing was made.")
    secret = secrets.token_urlsafe(TOKEN_BYTES)
    with durably(db):
        if len(tokens(db)) >= MOST_TOKENS:
            raise InputError(f"There are {MOST_TOKENS} tokens. Revoke one that is not used first.")
        made = db.execute(
            "insert into api_token (key, name, scopes, hash, made_ms, made_by)"
            " values (?, ?, ?, ?, ?, ?) on conflict (key) do nothing",
            (key, name, " ".join(sorted(scopes)), _hash(secret), to_ms(now), by),
        )
    return secret if made.rowcount else None


def tokens(db: Database) -> list[ApiToken]:
    """Return the tokens that hold, the oldest first."""
    return [token for token, _hash in _rows(db)]


def admitted(db: Database, secret: str) -> ApiToken | None:
    """Return the token that this is, or None; all that hold are compared, in constant time."""
    found, given = None, _hash(secret)
    for token, kept in _rows(db):
        if compare_digest(given, kept):
            found = token
    return found


def note_use(db: Database, token: ApiToken, *, now: datetime) -> None:
    """Keep when a token was last used, at most once an hour."""
    if token.used_at is not None and timedelta() <= now - token.used_at < USE_NOTED_EVERY:
        return
    with db.atomic():
        db.execute("update api_token set used_ms = ? where id = ?", (to_ms(now), token.number))


def revoke_token(db: Database, number: int, *, by: str, now: datetime) -> bool:
    """Let a token hold no more; False where none of that number does."""
    with durably(db):
        done = db.execute(
            "update api_token set revoked_ms = ?, revoked_by = ?"
            " where id = ? and revoked_ms is null",
            (to_ms(now), by, number),
        )
    return bool(done.rowcount)


def _hash(secret: str) -> str:
    return sha256(secret.encode("utf-8", "replace")).hexdigest()


def _rows(db: Database) -> list[tuple[ApiToken, str]]:
    rows = db.execute(
        "select id, name, scopes, made_ms, made_by, used_ms, hash from api_token"
        " where revoked_ms is null order by id"
    )
    return [
        (
            ApiToken(
                number=number,
                name=name,
                scopes=frozenset(Scope(scope) for scope in scopes.split()),
                made_at=from_ms(made_ms),
                made_by=made_by,
                used_at=None if used_ms is None else from_ms(used_ms),
            ),
            kept,
        )
        for number, name, scopes, made_ms, made_by, used_ms, kept in rows
    ]
