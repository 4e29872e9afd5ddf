"""The forecast desk: looks whether a forecast is due, has it made, keeps it and what it taught.

Due at the start, every hour, and soon after something was weighed, corrected, hung, moved, pulled,
begun or set otherwise. A try that brings nothing leaves the last forecast in place, with the reason
beside it. All of it runs in a thread of the scheduler's and in children; control knows nothing of
it, and the page reads the store.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from hangroom.errors import HangroomError, InputError
from hangroom.forecasting.believable import fault_in
from hangroom.forecasting.child import Child
from hangroom.forecasting.child_desk import ChildDesk
from hangroom.forecasting.question import Prepared, most_weighed, prepared
from hangroom.product.drying_priors import PUBLISHED
from hangroom.product.learning import Taught, lessons
from hangroom.store.batches import hanging_batches
from hangroom.store.forecasts import (
    Cause,
    Failure,
    KeptForecast,
    keep_failure,
    keep_forecast,
    known_of,
    newest_of_every_group,
    pulled_since,
)
from hangroom.store.learned import Learned, keep_learned, learned
from hangroom.store.record.whole import batch_record
from hangroom.store.room_plans import Marks, marks, newest_plans

EVERY = timedelta(hours=1)
# A try that failed is made again a little sooner.
AGAIN_AFTER = timedelta(minutes=10)
# A group pulled earlier than this and not forecast since then stays so.
PULLED_WITHIN = timedelta(days=1)
# From so many looks on a group's weights teach something about its room and recipe.
TEACHES_FROM = 2

TEACHING = frozenset({Cause.START, Cause.WEIGH_IN, Cause.HUNG})


class Forecasts(ChildDesk):
    """Makes forecasts where they are due; `look` is called every few seconds, `stop` at the end."""

    def __init__(
        self,
        path: Path,
        *,
        scale_sd_g: float,
        now: Callable[[], datetime],
        live: Callable[[], bool] = lambda: True,
        child: Child | None = None,
    ) -> None:
        super().__init__(path, scale_sd_g=scale_sd_g, now=now, live=live, child=child or Child())
        self._marks: Marks | None = None
        self._due_at: datetime | None = None
        self._looked_at: datetime | None = None

    def look(self) -> Cause | None:
        """Forecast every group that hangs where that is due; return why it was, None where not."""
        return self._in_turn(self._look)

    def _look(self, db: Database) -> Cause | None:
        seen = marks(db)
        cause = self._cause(seen, self._now())
        if cause is not None:
            # Before anything can go wrong, so that nothing is tried again at every look.
            self._marks, self._due_at = seen, self._now() + AGAIN_AFTER
            if self._forecast(db, cause):
                self._due_at = self._now() + EVERY
        return cause

    def _cause(self, seen: Marks, now: datetime) -> Cause | None:
        """Return what makes a forecast due now, None where none is."""
        before, looked_at = self._marks, self._looked_at
        self._looked_at = now
        if before is None or self._due_at is None:
            return Cause.START
        if (seen.weigh_ins, seen.edits) != (before.weigh_ins, before.edits):
            return Cause.WEIGH_IN
        if (seen.stays, seen.open_stays) != (before.stays, before.open_stays):
            return Cause.HUNG
        if seen.plans != before.plans:
            return Cause.STAGE
        # A clock that was set back would put the next one off by as much.
        jumped_back = looked_at is not None and now < looked_at
        return Cause.HOURLY if jumped_back or now >= self._due_at else None

    def _forecast(self, db: Database, cause: Cause) -> bool:
        """Forecast every group there is to forecast; return whether each came to a forecast."""
        now = self._now()
        hanging = [
            (batch.number, group.letter, cause)
            for batch in hanging_batches(db)
            for group in batch.groups
            if group.room is not None
        ]
        pulled = [(*one, Cause.PULLED) for one in pulled_since(db, now - PULLED_WITHIN)]
        if cause is Cause.START:
            # What was kept by another version is as good as gone, and so is what it taught.
            learn(db, now=now)
        whole = True
        for number, letter, why in [*hanging, *pulled]:
            if self._stopping:
                return False
            whole &= self._forecast_group(db, number, letter, why)
        if cause in TEACHING:
            learn(db, now=now)
        return whole

    def _forecast_group(self, db: Database, number: int, letter: str, cause: Cause) -> bool:
        now = self._now()
        record = batch_record(db, number)
        group = (
            next((g for g in record.batch.groups if g.letter == letter), None) if record else None
        )
        if record is None or group is None:
            return True
        try:
            about = prepared(
                db,
                record,
                group,
                plans=newest_plans(db),
                learned={subject: one.beliefs for subject, one in learned(db).items()},
                earlier=known_of(db, [group.number])[group.number].kept,
                scale_sd_g=self._scale_sd_g,
                now=now,
            )
            if about is None:
                return True
            kept = self._asked(about, cause=cause, now=now)
        except HangroomError as fault:
            if not self._stopping:
                keep_failure(db, group.number, Failure(at=now, cause=cause, why=str(fault)))
            return False
        keep_forecast(db, group.number, kept)
        return True

    def _asked(self, about: Prepared, *, cause: Cause, now: datetime) -> KeptForecast:
        question = about.question
        forecast = self._child.ask(question)
        fault = fault_in(forecast, question)
        if fault:
            raise InputError(f"The forecast was thrown away: {fault}.")
        return KeptForecast(
            made_at=now,
            cause=cause,
            hung_at=about.hung_at,
            room=about.room,
            recipe=about.recipe,
            diameter_mm=question.diameter_mm,
            plan=question.plan,
            before=question.beliefs,
            weighings=most_weighed(question),
            forecast=replace(forecast, remarks=(*forecast.remarks, *about.assumed)),
        )


def learn(db: Database, *, now: datetime) -> None:
    """Work out anew what every group's newest forecast teaches about its room and recipe."""
    taught = list(_taught(db))
    keep_learned(
        db,
        (
            Learned(
                kind=kind,
                name=name,
                beliefs=lesson.beliefs,
                batches=lesson.batches,
                updated_at=now,
            )
            for (kind, name), lesson in lessons(taught, published=PUBLISHED).items()
        ),
    )


def _taught(db: Database) -> Iterable[Taught]:
    batch_of = dict(db.execute("select id, batch_id from stick_group").fetchall())
    for number, kept in newest_of_every_group(db).items():
        if kept.weighings >= TEACHES_FROM or (kept.weighings and kept.cause is Cause.PULLED):
            yield Taught(
                batch=batch_of[number],
                room=kept.room,
                recipe=kept.recipe,
                before=kept.before or PUBLISHED,
                after=kept.forecast.beliefs,
            )
