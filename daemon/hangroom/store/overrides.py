"""Relays switched by hand for a while: the daemon's table. Done in the caller's transaction."""

from sqlite_utils import Database

from hangroom.store.began import Instant, began_columns
from hangroom.terms import Override, RelayKind


def keep_override(
    db: Database, *, room: str, relay: RelayKind, override: Override, at: Instant
) -> None:
    """Store an override that has passed its checks; it counts from now."""
    db.execute(
        "insert or replace into override values (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            room,
            str(relay),
            *began_columns(at.uptime_s, at),
            round(1000 * (override.ends_uptime_s - at.uptime_s)),
            int(override.closed),
            override.by,
            override.why,
        ),
    )


def forget_override(db: Database, *, room: str, relay: RelayKind) -> None:
    """Take out an override that has ended."""
    db.execute("delete from override where room = ? and relay = ?", (room, str(relay)))


def overrides(db: Database) -> dict[tuple[str, RelayKind], Override]:
    """Return every stored override by room and relay, in seconds of this boot."""
    rows = db.execute(
        "select room, relay, closed, since_uptime_ms + lasts_ms, asked_by, why from override"
    )
    return {
        (room, RelayKind(relay)): Override(
            closed=bool(closed), ends_uptime_s=ends_ms / 1000, by=by, why=why
        )
        for room, relay, closed, ends_ms, by, why in rows
    }
