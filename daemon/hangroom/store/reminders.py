"""Reminders of the daily look: the daemon's table, one per batch and local day."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlite_utils import Database

from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Reminder:
    """That a batch was due for its daily look."""

    batch_number: int
    due_date: date
    due_at: datetime


def remind(
    db: Database, *, batch_number: int, due_date: date, due_at: datetime, now: datetime
) -> bool:
    """Store a reminder and return True, or False where that day already has one."""
    with durably(db):
        done = db.execute(
            "insert into reminder (batch_id, due_date, due_ms, made_ms)"
            " select id, ?, ?, ? from batch where number = ?"
            " on conflict (batch_id, due_date) do nothing",
            (due_date.isoformat(), to_ms(due_at), to_ms(now), batch_number),
        )
    return bool(done.rowcount)


def latest_reminders(db: Database) -> list[Reminder]:
    """Return the newest reminder of each batch."""
    rows = db.execute(
        "select number, due_date, max(due_ms) from reminder join batch on batch.id = batch_id"
        " group by batch_id"
    )
    return [
        Reminder(batch_number=number, due_date=date.fromisoformat(due_date), due_at=from_ms(due_ms))
        for number, due_date, due_ms in rows
    ]
