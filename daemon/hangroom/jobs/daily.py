"""The daily look: who is asked, again or no more, as the store has it and by the keeper's words."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from hangroom.jobs.looking import Looking
from hangroom.jobs.reminder_text import in_words
from hangroom.product.daily_look import Due, counts_from, latest_due
from hangroom.product.daily_work import (
    LEAST_BETWEEN,
    Asked,
    Left,
    Step,
    Work,
    clock_can_be_right,
    left,
    next_step,
)
from hangroom.store.batches import hanging_batches
from hangroom.store.clock_seen import seen_until
from hangroom.store.daily_work import works_of
from hangroom.store.database import connect
from hangroom.store.reminders import (
    Ended,
    Reminder,
    ask_again,
    end,
    open_reminders,
    remind,
    withdraw_after,
)

ENDS = {Step.DONE: Ended.DONE, Step.GONE: Ended.GONE}


def daily_look(path: Path, looking: Looking, *, now: datetime) -> list[Reminder]:
    """Remind of what hangs and was not looked at since its newest due moment, and ask again.

    Returns what was asked now. Asking at the same moment twice changes nothing, and nothing is
    asked by a clock that is plainly wrong.
    """
    db = connect(path)
    try:
        if not clock_can_be_right(now, seen=seen_until(db, now=now)):
            return []
        return list(_asked(db, looking, now))
    finally:
        db.close()


def _asked(db: Database, looking: Looking, now: datetime) -> Iterator[Reminder]:
    # The slack is for a clock that was set back by an hour: it asks for no look twice.
    withdraw_after(db, now + LEAST_BETWEEN)
    kept = hanging_batches(db)
    batches = {batch.number: batch for batch in kept}
    works = {(work.batch_number, work.room): work for work in works_of(db, kept, now=now)}
    waiting = {(one.batch_number, one.room): one for one in open_reminders(db)}
    due = latest_due(now, at=looking.at, zone=looking.zone)
    said: set[str] = set()
    for key in sorted(works.keys() | waiting.keys()):
        work, before = works.get(key), waiting.get(key)
        step = _step(work, before, due, looking, now)
        if before is not None and step in ENDS:
            end(db, before, ENDS[step], now=now)
            before, step = None, _step(work, None, due, looking, now)
        if work is None or step not in {Step.ASK, Step.ASK_AGAIN}:
            continue
        reminder = _first(work, due, now) if before is None else _again(before, step, due, now)
        title, text = in_words(
            db,
            batches[work.batch_number],
            reminder,
            _left(work, reminder.due_at, looking),
            looking,
            # What a room asks for besides is said once, with its first batch.
            of_room=work.room not in said,
        )
        said.add(work.room)
        reminder = replace(reminder, title=title, text=text)
        if step is Step.ASK_AGAIN:
            ask_again(db, reminder)
            yield reminder
        elif remind(db, reminder):
            yield reminder


def _first(work: Work, due: Due, now: datetime) -> Reminder:
    return Reminder(
        batch_number=work.batch_number,
        room=work.room,
        due_date=due.day,
        due_clock=f"{due.clock:%H:%M}",
        due_at=due.at,
        since_at=due.at,
        asked_at=now,
        times_asked=1,
        title="",
        text="",
    )


def _again(before: Reminder, step: Step, due: Due, now: datetime) -> Reminder:
    """Return an open reminder as it is asked again, of the newest look where that is due."""
    again = replace(before, asked_at=now, times_asked=before.times_asked + 1, snoozed_until=None)
    if step is Step.ASK_AGAIN:
        return again
    return replace(again, due_date=due.day, due_clock=f"{due.clock:%H:%M}", due_at=due.at)


def _left(work: Work, due_at: datetime, looking: Looking) -> Left:
    counts_from_at = counts_from(due_at, at=looking.at, zone=looking.zone)
    return left(work, due_at=due_at, counts_from_at=counts_from_at)


def _step(
    work: Work | None, before: Reminder | None, due: Due, looking: Looking, now: datetime
) -> Step:
    def counts(due_at: datetime) -> datetime:
        return counts_from(due_at, at=looking.at, zone=looking.zone)

    asked = None
    if before is not None:
        asked = Asked(
            due_at=before.due_at,
            counts_from_at=counts(before.due_at),
            asked_at=before.asked_at,
            snoozed_until=before.snoozed_until,
        )
    return next_step(
        work,
        asked,
        due_at=due.at,
        counts_from_at=counts(due.at),
        now=now,
        ask_again_after=looking.ask_again_after,
        snooze_at_most=looking.snooze_at_most,
    )
