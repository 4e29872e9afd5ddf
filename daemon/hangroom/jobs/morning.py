"""The morning's summary, made once a local day while something hangs, out of what was noted."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from hangroom.jobs.looking import Looking
from hangroom.jobs.night import alarms_raised, room_night
from hangroom.jobs.standings import standing_of
from hangroom.product.daily_look import counts_from, due_on, latest_due, next_due
from hangroom.product.daily_work import clock_can_be_right, left, salt_check_is_due
from hangroom.product.day_ahead import NIGHT_FROM
from hangroom.product.group_standing import arrived, say_standing
from hangroom.product.summary_words import (
    GroupMorning,
    Morning,
    SticksToWeigh,
    summary_text,
    summary_title,
)
from hangroom.store.batches import Batch, hanging_batches
from hangroom.store.clock_seen import seen_until
from hangroom.store.daily_work import works_of
from hangroom.store.database import connect
from hangroom.store.forecasts import known_of
from hangroom.store.reminders import open_reminders
from hangroom.store.room_plans import newest_plans
from hangroom.store.salt_checks import newest_check_at
from hangroom.store.summaries import Summary, keep_summary, newest_summary
from hangroom.terms import Stage


def morning_summary(path: Path, looking: Looking, *, now: datetime) -> Summary | None:
    """Make and store today's summary and return it; None where it is not due, or was made."""
    due = latest_due(now, at=(looking.summary_at,), zone=looking.zone)
    if due.day != now.astimezone(looking.zone).date():
        return None
    db = connect(path)
    try:
        newest = newest_summary(db)
        if newest is not None and newest.day == due.day:
            return None
        if not clock_can_be_right(now, seen=seen_until(db, now=now)):
            return None
        kept = hanging_batches(db)
        if not kept:
            return None
        morning = _morning(db, kept, looking, until_at=due.at, now=now)
        summary = Summary(
            day=due.day,
            made_at=now,
            title=summary_title(morning, looking.zone),
            text=summary_text(morning, units=looking.units, zone=looking.zone, now=now),
        )
        return summary if keep_summary(db, summary) else None
    finally:
        db.close()


def _morning(
    db: Database, kept: Sequence[Batch], looking: Looking, *, until_at: datetime, now: datetime
) -> Morning:
    evening = until_at.astimezone(looking.zone).date() - timedelta(days=1)
    since_at = due_on(evening, at=NIGHT_FROM, zone=looking.zone)
    plans = newest_plans(db)
    return Morning(
        since_at=since_at,
        until_at=until_at,
        rooms=[
            room_night(db, name, room.title, plans.get(name), since_at=since_at, until_at=until_at)
            for name, room in looking.rooms.items()
            if name not in plans or plans[name].stage is not Stage.EMPTY
        ],
        alarms=alarms_raised(db, looking, since_at=since_at, until_at=until_at),
        groups=list(_groups(db, kept, looking, now)),
        weigh=list(_to_weigh(db, kept, looking, now)),
        salt_checks=list(_salt_checks(db, looking, now)),
    )


def _groups(
    db: Database, kept: Sequence[Batch], looking: Looking, now: datetime
) -> Iterator[GroupMorning]:
    there = [
        (batch, group)
        for batch in sorted(kept, key=lambda batch: batch.number)
        for group in batch.groups
        if group.room is not None
    ]
    known = known_of(db, (group.number for _, group in there))
    for batch, group in there:
        standing = standing_of(group, known[group.number].kept)
        yield GroupMorning(
            title=f"Batch {batch.number} {group.letter}, {group.finish}",
            standing=say_standing(standing, zone=looking.zone, now=now),
            arrived=arrived(standing, now),
        )


def _to_weigh(
    db: Database, kept: Sequence[Batch], looking: Looking, now: datetime
) -> Iterator[SticksToWeigh]:
    """Yield what is asked for since a look that came due, or will be by the next one of today."""
    waiting = {(one.batch_number, one.room): one for one in open_reminders(db)}
    coming = next_due(now, at=looking.at, zone=looking.zone)
    today = now.astimezone(looking.zone).date()
    for work in works_of(db, kept, now=now):
        reminder = waiting.get((work.batch_number, work.room))
        if reminder is None and coming.day != today:
            continue
        due_at = coming.at if reminder is None else reminder.due_at
        counts_from_at = counts_from(due_at, at=looking.at, zone=looking.zone)
        tags = left(work, due_at=due_at, counts_from_at=counts_from_at).tags
        if tags:
            yield SticksToWeigh(
                title=f"batch {work.batch_number}, {looking.title(work.room)}",
                tags=tags,
                due_at=coming.at if reminder is None else reminder.since_at,
            )


def _salt_checks(db: Database, looking: Looking, now: datetime) -> Iterator[str]:
    checked = newest_check_at(db)
    for name, room in looking.rooms.items():
        for sensor in room.sensors:
            if salt_check_is_due(checked.get((name, sensor)), now=now):
                yield f"sensor {sensor}, {room.title}"
