"""Where a group hangs, from when to when: hung, moved, pulled. Owns the table hang.

A group hangs in one room at a time. A stay is ended by a move or a pull; what was noted wrongly is
corrected or struck out by `hangroom.store.record.edits`.
"""

import secrets
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.checks import check_moment, check_span, check_text
from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

LONGEST_ROOM = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Hang:
    """One stay of a group (by its letter) in a room; `to_at` is None while it lasts.

    `entered_by` hung it, `ended_by` moved or pulled it. Raises InputError for what cannot be.
    """

    key: str
    group: str
    room: str
    from_at: datetime
    to_at: datetime | None
    entered_at: datetime
    entered_by: str
    ended_by: str = ""
    struck_at: datetime | None = None

    def __post_init__(self) -> None:
        check_text("room", self.room, needed=True, longest=LONGEST_ROOM)
        check_span("stay", self.from_at, self.to_at)


def hang_group(
    db: Database, group_number: int, *, room: str, at: datetime, key: str, by: str, now: datetime
) -> bool:
    """Note that a group was hung, and return True, or False where `key` is already stored.

    Raises InputError where it hangs already, or was still hanging at that time.
    """
    check_moment("time it was hung", at, entered_at=now)
    with durably(db):
        if _known(db, key):
            return False
        newest = _newest_stay(db, group_number)
        if newest is not None and newest.to_at is None:
            raise InputError(
                f"The group hangs in {newest.room} already. Move it or pull it; nothing was stored."
            )
        if newest is not None and newest.to_at is not None and at < newest.to_at:
            raise InputError(
                f"At that time the group still hung in {newest.room}. Check the time; "
                "nothing was stored."
            )
        insert_stay(db, group_number, room=room, at=at, key=key, by=by, now=now)
    return True


def move_group(
    db: Database, group_number: int, *, room: str, at: datetime, key: str, by: str, now: datetime
) -> bool:
    """Note that a hanging group was moved to a room, and return True; False where `key` is stored.

    Raises InputError where it hangs nowhere, is there already, or was hung after that time.
    """
    check_moment("time it was moved", at, entered_at=now)
    with durably(db):
        if _known(db, key):
            return False
        newest = _newest_stay(db, group_number)
        if newest is None or newest.to_at is not None:
            raise InputError("The group hangs nowhere. Hang it first; nothing was stored.")
        if newest.room == room:
            raise InputError(f"The group hangs in {room} already; nothing was stored.")
        _end(db, newest, at=at, by=by, what="moved")
        insert_stay(db, group_number, room=room, at=at, key=key, by=by, now=now)
    return True


def pull_group(
    db: Database, group_number: int, *, now: datetime, at: datetime | None = None, by: str = ""
) -> bool:
    """Note that a group was taken off the rail, and return True; False where it was before.

    `at` is when, now where it is left out. Raises InputError where it never hung, or was hung
    after that time.
    """
    at = at or now
    check_moment("time it was pulled", at, entered_at=now)
    with durably(db):
        newest = _newest_stay(db, group_number)
        if newest is None:
            raise InputError(
                "The group has not hung yet, so it cannot be pulled. Hang it first; "
                "nothing was stored."
            )
        if newest.to_at is not None:
            return False
        _end(db, newest, at=at, by=by, what="pulled")
    return True


def insert_stay(
    db: Database,
    group_number: int,
    *,
    room: str,
    at: datetime,
    key: str | None = None,
    by: str,
    now: datetime,
) -> None:
    """Insert a stay that lasts, in the caller's transaction."""
    check_text("room", room, needed=True, longest=LONGEST_ROOM)
    db.execute(
        "insert into hang (group_id, room, from_ms, key, entered_ms, entered_by)"
        " values (?, ?, ?, ?, ?, ?)",
        (group_number, room, to_ms(at), key or secrets.token_hex(16), to_ms(now), by),
    )


def stays_of(db: Database, batch_id: int) -> list[Hang]:
    """Return a batch's stays in rooms that are not struck out, oldest first."""
    rows = db.execute(
        "select hang.key, letter, room, from_ms, to_ms, entered_ms, entered_by, ended_by"
        " from hang join stick_group on stick_group.id = group_id"
        " where batch_id = ? and struck_ms is null order by from_ms, hang.id",
        (batch_id,),
    )
    return [
        Hang(
            key=key,
            group=letter,
            room=room,
            from_at=from_ms(from_ms_),
            to_at=None if to_ms_ is None else from_ms(to_ms_),
            entered_at=from_ms(entered_ms),
            entered_by=by,
            ended_by=ended_by,
        )
        for key, letter, room, from_ms_, to_ms_, entered_ms, by, ended_by in rows
    ]


def check_stays(db: Database, key: str) -> None:
    """Refuse a group's stays, given the key of one of them, where it would hang twice at once."""
    stays = db.execute(
        "select room, from_ms, to_ms from hang where struck_ms is null and group_id ="
        " (select group_id from hang where key = ?) order by from_ms, id",
        (key,),
    ).fetchall()
    for (room, _, to_ms_), (next_room, from_ms_, _) in pairwise(stays):
        if to_ms_ is None or to_ms_ > from_ms_:
            raise InputError(
                f"The group would hang in {room} and in {next_room} at the same time. Check the "
                "times of both stays; nothing was stored."
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stay:
    number: int
    room: str
    from_at: datetime
    to_at: datetime | None


def _newest_stay(db: Database, group_number: int) -> _Stay | None:
    row = db.execute(
        "select id, room, from_ms, to_ms from hang where group_id = ? and struck_ms is null"
        " order by from_ms desc, id desc limit 1",
        (group_number,),
    ).fetchone()
    if row is None:
        return None
    number, room, from_ms_, to_ms_ = row
    return _Stay(
        number=number,
        room=room,
        from_at=from_ms(from_ms_),
        to_at=None if to_ms_ is None else from_ms(to_ms_),
    )


def _end(db: Database, stay: _Stay, *, at: datetime, by: str, what: str) -> None:
    if at < stay.from_at:
        raise InputError(
            f"The group was hung in {stay.room} at {stay.from_at:%Y-%m-%d %H:%M} UTC, so it cannot "
            f"have been {what} at {at:%Y-%m-%d %H:%M} UTC. Check the time; nothing was stored."
        )
    db.execute("update hang set to_ms = ?, ended_by = ? where id = ?", (to_ms(at), by, stay.number))


def _known(db: Database, key: str) -> bool:
    return db.execute("select 1 from hang where key = ?", (key,)).fetchone() is not None
