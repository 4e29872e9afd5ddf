"""What hangs, for the alarms on a batch left alone."""

from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from hangroom.control.alarms.batch_conditions import HangingBatch, HangingGroup
from hangroom.jobs.standings import newest_yield_pct
from hangroom.product.daily_look import COUNTS_BEFORE
from hangroom.store.batches import Batch, hanging_batches
from hangroom.store.database import connect
from hangroom.store.moments import from_ms
from hangroom.store.record.looks import last_look_at
from hangroom.store.weigh_ins import last_entry_at


def hanging(path: Path, *, now: datetime) -> tuple[HangingBatch, ...]:
    """Return what hangs, for the alarms on a batch left alone."""
    db = connect(path)
    try:
        return tuple(
            HangingBatch(
                number=batch.number,
                unseen_s=_unseen_s(db, batch, now),
                groups=tuple(
                    HangingGroup(
                        letter=group.letter,
                        yield_pct=newest_yield_pct(group),
                        target_yield_pct=group.target_yield_pct,
                    )
                    for group in batch.groups
                    if group.room is not None
                ),
            )
            for batch in hanging_batches(db)
        )
    finally:
        db.close()


def _unseen_s(db: Database, batch: Batch, now: datetime) -> float:
    """Return how long ago a batch was last weighed, looked at or hung, in seconds."""
    # What a clock noted that was far ahead says of no day to come that somebody looked.
    until = now + COUNTS_BEFORE
    weighed_ms = last_entry_at(db, batch.number, until=until)
    looked_at = last_look_at(db, batch.number, until=until)
    hung = [group.hung_at for group in batch.groups if group.room and group.hung_at]
    seen = [
        min(hung, default=batch.started_at),
        *([] if weighed_ms is None else [from_ms(weighed_ms)]),
        *([] if looked_at is None else [looked_at]),
    ]
    return (now - max(seen)).total_seconds()
