"""Reminders of the daily look: the daemon's table, one per batch, room, local day and time.

At most one of a batch in a room is open: the newest, which takes over from one nobody answered.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from sqlite_utils import Database

from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms


class Ended(StrEnum):
    """Why nobody is asked any more: the entries are in, the next look came due, nothing hangs."""

    DONE = "done"
    MISSED = "missed"
    GONE = "gone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reminder:
    """That what hangs of a batch in a room is due for its daily look; all moments UTC.

    `due_date`, `due_clock`: local day and time, for example 08:00. `since_at`: when the first look
    of those in a row that nobody made came due. `asked_at`: last, of `times_asked` since then.
    `snoozed_until`: nobody is asked before. `title`, `text`: as asked last.
    """

    batch_number: int
    room: str
    due_date: date
    due_clock: str
    due_at: datetime
    since_at: datetime
    asked_at: datetime
    times_asked: int
    snoozed_until: datetime | None = None
    done_at: datetime | None = None
    title: str
    text: str


def remind(db: Database, reminder: Reminder) -> bool:
    """Store a reminder and return True, or False where that day's time already has one.

    It takes over from an open one of the same batch and room.
    """
    with durably(db):
        done = db.execute(
            "insert into reminder (batch_id, room, due_date, due_clock, due_ms, since_ms, made_ms,"
            " asked_ms, times_asked, title, text)"
            " select id, ?, ?, ?, ?, ?, ?, ?, ?, ?, ? from batch where number = ?"
            " on conflict (batch_id, room, due_date, due_clock) do nothing",
            (
                reminder.room,
                reminder.due_date.isoformat(),
                reminder.due_clock,
                to_ms(reminder.due_at),
                to_ms(reminder.since_at),
                to_ms(reminder.asked_at),
                to_ms(reminder.asked_at),
                reminder.times_asked,
                reminder.title,
                reminder.text,
                reminder.batch_number,
            ),
        )
        if done.rowcount:
            db.execute(
                f"update reminder set ended_ms = ?, ended_why = ? where {_OPEN_OF} and id <> ?",  # noqa: S608 - this file's own text
                (
                    to_ms(reminder.asked_at),
                    Ended.MISSED,
                    reminder.batch_number,
                    reminder.room,
                    done.lastrowid,
                ),
            )
    return bool(done.rowcount)


def ask_again(db: Database, reminder: Reminder) -> None:
    """Store that an open reminder is asked again, when, how often by now, and in which words."""
    with durably(db):
        db.execute(
            "update reminder set asked_ms = ?, times_asked = ?, snoozed_ms = null, title = ?,"  # noqa: S608 - this file's own text
            f" text = ? where {_OPEN_OF}",
            (
                to_ms(reminder.asked_at),
                reminder.times_asked,
                reminder.title,
                reminder.text,
                reminder.batch_number,
                reminder.room,
            ),
        )


def end(db: Database, reminder: Reminder, why: Ended, *, now: datetime) -> None:
    """Store that a reminder is over."""
    with durably(db):
        db.execute(
            f"update reminder set ended_ms = ?, ended_why = ? where {_OPEN_OF}",  # noqa: S608 - this file's own text
            (to_ms(now), why, reminder.batch_number, reminder.room),
        )


def withdraw_after(db: Database, moment: datetime) -> None:
    """Forget the reminders of looks that come due after a moment: a clock that was ahead made them.

    Left in place, they would keep the looks until then, and their own, from being asked for.
    """
    after_ms = to_ms(moment)
    if db.execute("select 1 from reminder where due_ms > ? limit 1", (after_ms,)).fetchone():
        with durably(db):
            db.execute("delete from reminder where due_ms > ?", (after_ms,))


def snooze(db: Database, *, until: datetime, by: str, batch_number: int | None = None) -> int:
    """Let nobody be asked before a moment; of one batch, or of all. Return how many that are.

    Done in the caller's transaction.
    """
    of = "" if batch_number is None else " and batch_id = (select id from batch where number = ?)"
    done = db.execute(
        f"update reminder set snoozed_ms = ?, snoozed_by = ? where ended_ms is null{of}",  # noqa: S608 - this file's own text
        (to_ms(until), by, *([] if batch_number is None else [batch_number])),
    )
    return int(done.rowcount)


def open_reminders(db: Database) -> list[Reminder]:
    """Return the reminders that wait for somebody, the one that came due first before others."""
    return _reminders(db, "where ended_ms is null order by since_ms, number, room")


def latest_reminders(db: Database) -> list[Reminder]:
    """Return the newest reminder of each batch and room, over or not."""
    return _reminders(
        db,
        "where reminder.id in (select id from (select id, max(due_ms) from reminder"
        " group by batch_id, room)) order by number, room",
    )


_OPEN_OF = "batch_id = (select id from batch where number = ?) and room = ? and ended_ms is null"
_COLUMNS = (
    "number, room, due_date, due_clock, due_ms, since_ms, asked_ms, times_asked, snoozed_ms,"
    " case ended_why when 'done' then ended_ms end, title, text"
)


def _reminders(db: Database, tail: str) -> list[Reminder]:
    rows: Iterable[tuple[int, str, str, str, int, int, int, int, int | None, int | None, str, str]]
    rows = db.execute(
        f"select {_COLUMNS} from reminder join batch on batch.id = batch_id {tail}"  # noqa: S608 - both are this file's own text
    )
    return [
        Reminder(
            batch_number=number,
            room=room,
            due_date=date.fromisoformat(due_date),
            due_clock=due_clock,
            due_at=from_ms(due_ms),
            since_at=from_ms(since_ms),
            asked_at=from_ms(asked_ms),
            times_asked=times,
            snoozed_until=None if snoozed_ms is None else from_ms(snoozed_ms),
            done_at=None if done_ms is None else from_ms(done_ms),
            title=title,
            text=text,
        )
        for (
            number,
            room,
            due_date,
            due_clock,
            due_ms,
            since_ms,
            asked_ms,
            times,
            snoozed_ms,
            done_ms,
            title,
            text,
        ) in rows
    ]
