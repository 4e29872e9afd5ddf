"""What the calendar has published, event by event. Owns calendar_event; the page writes it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarEntry:
    """What shall stand in the calendar.

    `uid`: the same for good, however the event moves. `remind_at`: when a phone should ring, None
    for never. `tentative`: a forecast, not a fact. `path`: of the page that tells more.
    """

    uid: str
    starts_at: datetime
    ends_at: datetime
    remind_at: datetime | None
    tentative: bool
    title: str
    text: str
    path: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PublishedEvent:
    """An entry as it was last published: its sequence (RFC 5545, 3.8.7.4) and newest change."""

    entry: CalendarEntry
    sequence: int
    changed_at: datetime
    cancelled: bool = False


def published_events(db: Database) -> list[PublishedEvent]:
    """Return everything that was ever published, in order of its start."""
    return [_event(row) for row in db.execute(_EVERYTHING)]


def keep_events(db: Database, events: Iterable[PublishedEvent]) -> None:
    """Store events in the form in which they are published from now on."""
    with durably(db):
        for event in events:
            entry = event.entry
            db.execute(
                "insert or replace into calendar_event (uid, sequence, changed_ms, cancelled,"
                " tentative, starts_ms, ends_ms, remind_ms, title, text, path)"
                " values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                (
                    entry.uid,
                    event.sequence,
                    to_ms(event.changed_at),
                    int(event.cancelled),
                    int(entry.tentative),
                    to_ms(entry.starts_at),
                    to_ms(entry.ends_at),
                    None if entry.remind_at is None else to_ms(entry.remind_at),
                    entry.title,
                    entry.text,
                    entry.path,
                ),
            )


def calendar_domain(db: Database) -> str:
    """Return what stands behind the @ of every uid: this household's own, and stable."""
    (domain,) = db.execute("select domain from calendar_identity").fetchone()
    return str(domain)


_EVERYTHING = """select uid, sequence, changed_ms, cancelled, tentative, starts_ms, ends_ms,
    remind_ms, title, text, path from calendar_event order by starts_ms, uid"""


def _event(row: Sequence[Any]) -> PublishedEvent:
    uid, sequence, changed_ms, cancelled, tentative, starts_ms, ends_ms, remind_ms, *words = row
    title, text, path = words
    return PublishedEvent(
        entry=CalendarEntry(
            uid=uid,
            starts_at=from_ms(starts_ms),
            ends_at=from_ms(ends_ms),
            remind_at=None if remind_ms is None else from_ms(remind_ms),
            tentative=bool(tentative),
            title=title,
            text=text,
            path=path,
        ),
        sequence=sequence,
        changed_at=from_ms(changed_ms),
        cancelled=bool(cancelled),
    )
