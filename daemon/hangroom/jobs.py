"""Jobs that follow the wall clock, owned by APScheduler: the daily look, the nightly tidying.

Never control and never a safety timer: a Pi's wall clock jumps, and the scheduler stumbles over
that. So it is built anew after every jump, and each job may run twice without harm.
"""

from collections.abc import Callable
from datetime import datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger

from hangroom.product.daily_look import latest_due
from hangroom.store.batches import Batch, batches
from hangroom.store.database import connect
from hangroom.store.moments import to_ms
from hangroom.store.reminders import remind
from hangroom.store.weigh_ins import last_entry_at

# A job that could not run at its time (power cut, busy machine) runs late rather than never.
LATE_BY_AT_MOST_S = 12 * 3600

TIDY_AT = time(4, 30)  # after every clock change of the night


def daily_look(path: Path, *, at: time, zone: ZoneInfo, now: datetime) -> list[int]:
    """Remind of each batch that hangs and was not looked at since its newest due moment.

    Returns the numbers of the batches reminded of. Asking again the same day changes nothing.
    """
    due_date, due_at = latest_due(now, at=at, zone=zone)
    db = connect(path)
    try:
        return [
            batch.number
            for batch in batches(db)
            if _hung_by(batch, due_at)
            and (last_entry_at(db, batch.number) or 0) < to_ms(due_at)
            and remind(db, batch_number=batch.number, due_date=due_date, due_at=due_at, now=now)
        ]
    finally:
        db.close()


def tidy(path: Path) -> None:
    """Fold the write-ahead log back into the database, so that it does not grow for ever."""
    db = connect(path)
    try:
        db.execute("pragma wal_checkpoint(truncate)")
    finally:
        db.close()


class Jobs:
    """The scheduler with its jobs; `rebuild` after a jump of the wall clock."""

    def __init__(
        self, path: Path, *, at: time, zone: ZoneInfo, now: Callable[[], datetime]
    ) -> None:
        self._path = path
        self._at = at
        self._zone = zone
        self._now = now
        self._scheduler: BackgroundScheduler | None = None

    def start(self) -> None:
        """Start, and first of all catch up on a look that came due while nothing ran.

        Returns at once and never fails by the database: only the scheduler's threads touch it.
        """
        self._scheduler = scheduler = BackgroundScheduler(timezone=self._zone)
        for name, job, hour, minute in (
            # Every hour: once a day would do, but a daily cron trigger passes over the first hour
            # of the day after a change to summer time, and a look that failed is done later.
            ("daily look", self._look, "*", self._at.minute),
            ("tidy", self._tidy, TIDY_AT.hour, TIDY_AT.minute),
        ):
            scheduler.add_job(
                job,
                CronTrigger(hour=hour, minute=minute, timezone=self._zone),
                id=name,
                misfire_grace_time=LATE_BY_AT_MOST_S,
                coalesce=True,
                max_instances=1,
            )
        scheduler.modify_job("daily look", next_run_time=self._now())
        scheduler.start()

    def rebuild(self) -> None:
        """Forget what was planned on the old time and plan anew, at once: control waits for it.

        A job that runs goes on beside the new ones.
        """
        self._shut_down(wait=False)
        self.start()

    def stop(self) -> None:
        """Stop; a job that runs is let finish. Safe to call twice."""
        self._shut_down(wait=True)

    def _shut_down(self, *, wait: bool) -> None:
        if self._scheduler is not None:
            self._scheduler.shutdown(wait=wait)
            self._scheduler = None

    def _look(self) -> None:
        daily_look(self._path, at=self._at, zone=self._zone, now=self._now())

    def _tidy(self) -> None:
        tidy(self._path)


def _hung_by(batch: Batch, moment: datetime) -> bool:
    return any(
        group.room is not None and group.hung_at is not None and group.hung_at <= moment
        for group in batch.groups
    )
