"""Jobs that follow the wall clock, by APScheduler: daily look, what hangs, forecasts, roll-ups.

Never control and never a safety timer: a Pi's wall clock jumps, and the scheduler stumbles over
that. So it is built anew after every jump, and each job may run twice without harm.
"""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time
from pathlib import Path

from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.cron import CronTrigger
from apscheduler.triggers.interval import IntervalTrigger

from hangroom.control.alarms.batch_conditions import HangingBatch
from hangroom.jobs.daily import daily_look
from hangroom.jobs.hanging import hanging
from hangroom.jobs.looking import Looking, looking_of
from hangroom.jobs.morning import morning_summary
from hangroom.jobs.rolling import roll_up_readings
from hangroom.store.database import connect

__all__ = [
    "Jobs",
    "Looking",
    "daily_look",
    "hanging",
    "looking_of",
    "morning_summary",
    "roll_up_readings",
    "tidy",
]

# A job that could not run at its time (power cut, busy machine) runs late rather than never.
LATE_BY_AT_MOST_S = 12 * 3600

# How often it is looked whether a forecast is due: soon after a weight was entered, yet rarely
# enough that the look, half a millisecond, is nothing.
FORECASTS_EVERY_S = 15

# How often it is looked whether somebody is to be asked: at the minutes of the looks themselves,
# and so often besides, for what was put off, what is over, and what failed.
LOOK_EVERY_MIN = 5

TIDY_AT = time(4, 30)  # after every clock change of the night


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
    due, every few seconds, each from a thread of the scheduler's. `scheduler` makes the scheduler
    of a zone.
    """

    def __init__(
        self,
        path: Path,
        *,
        looking: Looking,
        now: Callable[[], datetime],
        hangs: Callable[[Sequence[HangingBatch]], None],
        forecast: Callable[[], object] = lambda: None,
        look_every_min: int = LOOK_EVERY_MIN,
        scheduler: Callable[..., BackgroundScheduler] = BackgroundScheduler,
    ) -> None:
        self._path = path
        self._looking = looking
        self._now = now
        self._hangs = hangs
        self._forecast = forecast
        self._look_every_min = look_every_min
        self._new_scheduler = scheduler
        self._scheduler: BackgroundScheduler | None = None
        self._summarised: date | None = None

    def start(self) -> None:
        """Start, and first of all catch up on a look that came due while nothing ran.

        Returns at once and never fails by the database: only the scheduler's threads touch it.
        """
        zone, summary_at = self._looking.zone, self._looking.summary_at
        self._scheduler = scheduler = self._new_scheduler(timezone=zone)
        for name, job, hour, minute in (
            # Every hour: a daily cron trigger passes over the first hour of the day after a change
            # to summer time, and a look that failed is done later.
            ("daily look", self._look, "*", self._minutes()),
            # Apart from the look: a fault in a summary shall keep nobody from being asked.
            ("morning summary", self._summarise, _hours_from(summary_at), summary_at.minute),
            # Often enough that an alarm goes soon after the look that answers it.
            ("what hangs", self._see_what_hangs, "*", "*/10"),
            # Soon after each quarter of an hour, when its last row has been written.
            ("roll-ups", self._roll_up, "*", "2-59/15"),
            ("tidy", self._tidy, TIDY_AT.hour, TIDY_AT.minute),
        ):
            scheduler.add_job(
                job,
                CronTrigger(hour=hour, minute=minute, timezone=zone),
                id=name,
                misfire_grace_time=LATE_BY_AT_MOST_S,
                coalesce=True,
                max_instances=1,
            )
        scheduler.add_job(
            self._forecast,
            IntervalTrigger(seconds=FORECASTS_EVERY_S, timezone=zone),
            id="forecasts",
            misfire_grace_time=LATE_BY_AT_MOST_S,
            coalesce=True,
            # A second one finds the first at work and leaves; with one, the scheduler would
            # complain about every look that comes while a forecast is being made.
            max_instances=2,
        )
        for name in ("daily look", "morning summary", "what hangs", "roll-ups"):
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

    def _summarise(self) -> None:
        today = self._now().astimezone(self._looking.zone).date()
        if self._summarised != today and morning_summary(
            self._path, self._looking, now=self._now()
        ):
            self._summarised = today

    def _look(self) -> None:
        daily_look(self._path, self._looking, now=self._now())

    def _minutes(self) -> str:
        """Return at which minutes of an hour it is looked whether somebody is to be asked."""
        minutes = set(range(0, 60, self._look_every_min))
        minutes |= {clock.minute for clock in self._looking.at}
        return ",".join(str(minute) for minute in sorted(minutes))

    def _see_what_hangs(self) -> None:
        self._hangs(hanging(self._path, now=self._now()))

    def _roll_up(self) -> None:
        roll_up_readings(self._path, now=self._now())

    def _tidy(self) -> None:
        roll_up_readings(self._path, now=self._now(), everything=True)
        tidy(self._path)


def _hours_from(clock: time) -> str:
    """Return the hour of a time and the next three: one that failed, or was skipped, comes late."""
    return ",".join(str(hour) for hour in sorted((clock.hour + more) % 24 for more in range(4)))
