"""What the record knows of the time, to tell a clock that is plainly wrong. Owns no table."""

from datetime import datetime, timedelta

from sqlite_utils import Database

from hangroom.store.moments import from_ms, to_ms

# A program that ran for so long by its own clock has had time to be put right: what an earlier one
# noted beyond that was noted by a clock that ran ahead. Our own judgement.
TRUSTED_AFTER = timedelta(days=1)


def seen_until(db: Database, *, now: datetime) -> list[datetime]:
    """Return until when earlier programs lived; nothing where this one has run for a day."""
    newest = db.execute("select id, started_ms from run order by id desc limit 1").fetchone()
    if newest is None:
        return []
    run_id, started_ms = newest
    if to_ms(now) - started_ms >= TRUSTED_AFTER / timedelta(milliseconds=1):
        return []
    (last_ms,) = db.execute("select max(last_ms) from run where id < ?", (run_id,)).fetchone()
    return [] if last_ms is None else [from_ms(last_ms)]
