"""The summary of each morning: the daemon's table, one per local day."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """What was told of a local day's morning; `text` has one line per thing told."""

    day: date
    made_at: datetime
    title: str
    text: str


def keep_summary(db: Database, summary: Summary) -> bool:
    """Store a summary and return True, or False where that day already has one.

    Those of later days go: a clock that was ahead made them.
    """
    with db.atomic():
        db.execute("delete from morning_summary where day > ?", (summary.day.isoformat(),))
        done = db.execute(
            "insert into morning_summary (day, made_ms, title, text) values (?, ?, ?, ?)"
            " on conflict (day) do nothing",
            (summary.day.isoformat(), to_ms(summary.made_at), summary.title, summary.text),
        )
    return bool(done.rowcount)


def newest_summary(db: Database) -> Summary | None:
    """Return the summary of the newest day, or None where none was ever made."""
    row = db.execute(
        "select day, made_ms, title, text from morning_summary order by day desc limit 1"
    ).fetchone()
    if row is None:
        return None
    day, made_ms, title, text = row
    return Summary(day=date.fromisoformat(day), made_at=from_ms(made_ms), title=title, text=text)
