"""Jobs that follow the wall clock, by APScheduler: daily look, what hangs, forecasts, tidying.

Never control and never a safety timer: a Pi's wall clock jumps, and the scheduler stumbles over
that. So it is built anew after every jump, and each job may run twice without harm.
"""

from collections.abc import Callable, Sequence
from datetime import datetime, time, timedelta
from pathlib import Path
from statistics import fmean
from zoneinfo import ZoneInfo

from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger
from sqlite_utils import Database

from hangroom.control.alarms.batch_conditions import HangingBatch, HangingGroup
from hangroom.product.daily_look import latest_due
from hangroom.store.batches import Batch, Group, batches, hanging_batches
from hangroom.store.database import connect
from hangroom.store.moments import from_ms, to_ms
from hangroom.store.record.looks import last_look_at
from hangroom.store.reminders import remind
from hangroom.store.weigh_ins import last_entry_at

# A job that could not run at its time (power cut, busy machine) runs late rather than never.
LATE_BY_AT_MOST_S = 12 * 3600

# Weights taken within this time belong to one look.
ONE_LOOK = timedelta(hours=12)

# How often it is looked whether a forecast is due: soon after a weight was entered, yet rarely
# enough that the look, half a millisecond, is nothing.
FORECASTS_EVERY_S = 15

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
                        yield_pct=_newest_yield_pct(group),
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


def tidy(path: Path) -> None:
    """Fold the write-ahead log back into the database, so that it does not grow for ever."""
    db = connect(path)
    try:
        db.execute("pragma wal_checkpoint(truncate)")
    finally:
        db.close()


class Jobs:
    """The scheduler with its jobs; `rebuild` after a jump of the wall clock.

    `hangs` is handed what hangs, every ten minutes, and `forecast` makes the forecasts that are
    due, every few seconds, each from a thread of the scheduler's.
    """

    def __init__(
        self,
        path: Path,
        *,
        at: time,
        zone: ZoneInfo,
        now: Callable[[], datetime],
        hangs: Callable[[Sequence[HangingBatch]], None],
        forecast: Callable[[], object] = lambda: None,
    ) -> None:
        self._path = path
        self._at = at
        self._zone = zone
        self._now = now
        self._hangs = hangs
        self._forecast = forecast
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
            # Often enough that an alarm goes soon after the look that answers it.
            ("what hangs", self._see_what_hangs, "*", "*/10"),
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
        scheduler.add_job(
            self._forecast,
            IntervalTrigger(seconds=FORECASTS_EVERY_S, timezone=self._zone),
            id="forecasts",
            misfire_grace_time=LATE_BY_AT_MOST_S,
            coalesce=True,
            # A second one finds the first at work and leaves; with one, the scheduler would
            # complain about every look that comes while a forecast is being made.
            max_instances=2,
        )
        for name in ("daily look", "what hangs"):
            scheduler.modify_job(name, next_run_time=self._now())
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

    def _see_what_hangs(self) -> None:
        self._hangs(hanging(self._path, now=self._now()))

    def _tidy(self) -> None:
        tidy(self._path)


def _unseen_s(db: Database, batch: Batch, now: datetime) -> float:
    """Return how long ago a batch was last weighed, looked at or hung, in seconds."""
    weighed_ms, looked_at = last_entry_at(db, batch.number), last_look_at(db, batch.number)
    hung = [group.hung_at for group in batch.groups if group.room and group.hung_at]
    seen = [
        min(hung, default=batch.started_at),
        *([] if weighed_ms is None else [from_ms(weighed_ms)]),
        *([] if looked_at is None else [looked_at]),
    ]
    return (now - max(seen)).total_seconds()


def _newest_yield_pct(group: Group) -> float | None:
    """Return the mean yield on green weight at the group's newest look, or None without one, %."""
    newest = [(stick, stick.weigh_ins[-1]) for stick in group.tagged if stick.weigh_ins]
    if not newest:
        return None
    looked_at = max(weigh_in.taken_at for _, weigh_in in newest)
    return fmean(
        100.0 * weigh_in.weight_g / stick.green_weight_g
        for stick, weigh_in in newest
        if looked_at - weigh_in.taken_at < ONE_LOOK
    )


def _hung_by(batch: Batch, moment: datetime) -> bool:
    return any(
        group.room is not None and group.hung_at is not None and group.hung_at <= moment
        for group in batch.groups
    )
