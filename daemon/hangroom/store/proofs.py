"""Trials of relays and what a person saw of each: the daemon's table; every one is kept.

A proof belongs to how the relay was wired: on another pin or level it is void. Done in the
caller's transaction.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms
from hangroom.terms import RelayKind, Wiring

# Somebody who says only later what a trial did remembers another one. Our judgement.
ANSWERED_WITHIN = timedelta(minutes=15)

Wirings = Mapping[str, Mapping[RelayKind, Wiring]]
"""How each room's relays are wired."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """One trial of a relay, and what was seen of it: None as long as nobody has said.

    `lasts_s` is 0 where earlier running counts instead of a trial.
    """

    number: int
    room: str
    relay: RelayKind
    tried_at: datetime
    tried_by: str
    lasts_s: float
    seen: bool | None
    answered_at: datetime | None
    answered_by: str | None
    counts: bool


def keep_trial(
    db: Database,
    *,
    room: str,
    relay: RelayKind,
    wiring: Wiring,
    lasts_s: float,
    by: str,
    now: datetime,
) -> None:
    """Store a trial that is about to be carried out."""
    db.execute(
        "insert into relay_proof (room, relay, pin, active_high, tried_ms, tried_by, lasts_ms)"
        " values (?, ?, ?, ?, ?, ?, ?)",
        (
            room,
            str(relay),
            wiring.pin,
            int(wiring.active_high),
            to_ms(now),
            by,
            round(1000 * lasts_s),
        ),
    )


def keep_answer(db: Database, *, number: int, seen: bool, by: str, now: datetime) -> None:
    """Store what a person saw of a trial."""
    db.execute(
        "update relay_proof set seen = ?, answered_ms = ?, answered_by = ? where id = ?",
        (int(seen), to_ms(now), by, number),
    )


def proofs(db: Database) -> list[Proof]:
    """Return every trial, oldest first; `counts` tells those that hold for today's wiring."""
    rows = db.execute(
        "select id, room, relay, tried_ms, tried_by, lasts_ms, seen, answered_ms, answered_by,"
        " void_ms from relay_proof order by id"
    )
    return [
        Proof(
            number=number,
            room=room,
            relay=RelayKind(relay),
            tried_at=from_ms(tried_ms),
            tried_by=by,
            lasts_s=lasts_ms / 1000,
            seen=None if seen is None else bool(seen),
            answered_at=None if said_ms is None else from_ms(said_ms),
            answered_by=said_by,
            counts=void_ms is None,
        )
        for number, room, relay, tried_ms, by, lasts_ms, seen, said_ms, said_by, void_ms in rows
    ]


def to_be_answered(
    known: Iterable[Proof], room: str, relay: RelayKind, *, now: datetime
) -> Proof | None:
    """Return the newest trial of a relay, while it may still be said what was seen of it."""
    of_it = [one for one in known if (one.room, one.relay) == (room, relay) and one.counts]
    newest = of_it[-1] if of_it else None
    if newest is None or newest.seen is not None:
        return None
    # A trial of later than now is one of long ago: the wall clock has been set back since.
    return newest if timedelta(0) <= now - newest.tried_at <= ANSWERED_WITHIN else None


def proved(known: Iterable[Proof]) -> frozenset[tuple[str, RelayKind]]:
    """Return the room and relay of all that are proved: what was last seen of them was right."""
    last = {(one.room, one.relay): one.seen for one in known if one.counts and one.seen is not None}
    return frozenset(where for where, seen in last.items() if seen)


def fit_to_wirings(db: Database, wirings: Wirings, *, now: datetime) -> list[tuple[str, RelayKind]]:
    """Let proofs of another wiring count no longer; return the relays that have lost theirs.

    What counts by earlier running, of which no wiring was kept, takes that of the next start.
    """
    before = proved(proofs(db))
    for room, relays in wirings.items():
        for relay, wiring in relays.items():
            where = {
                "room": room,
                "relay": str(relay),
                "pin": wiring.pin,
                "active_high": int(wiring.active_high),
                "now": to_ms(now),
            }
            db.execute(
                "update relay_proof set pin = :pin, active_high = :active_high"
                " where room = :room and relay = :relay and pin is null",
                where,
            )
            db.execute(
                "update relay_proof set void_ms = :now where room = :room and relay = :relay"
                " and void_ms is null and (pin <> :pin or active_high <> :active_high)",
                where,
            )
    if wirings:
        # What is not wired at that start will be wired anew. A simulated house tells nothing.
        db.execute(
            "update relay_proof set void_ms = ? where pin is null and void_ms is null",
            (to_ms(now),),
        )
    return sorted(before - proved(proofs(db)))
