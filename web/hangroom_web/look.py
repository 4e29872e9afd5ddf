"""Today's look at the rail: which sticks are due, since when, and what comes next. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from hangroom.product.daily_look import counts_from, next_due
from hangroom.product.daily_work import Work, left
from hangroom.store.batches import Stick
from hangroom.store.record.skips import FOR_GOOD, Skip
from hangroom.store.reminders import Reminder
from hangroom_web.dates import day_of, say_clock, say_day, say_since
from hangroom_web.rail import HangingGroup, tagged_in, weighed_on
from hangroom_web.words import _


@dataclass(frozen=True, slots=True, kw_only=True)
class DueStick:
    """A tagged stick on the rail; `done` once it was weighed today, `due` where a look waits.

    `skipped`: why it was not weighed, today or for good.
    """

    hung: HangingGroup
    stick: Stick
    done: bool
    due: bool
    skipped: Skip | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """All tagged sticks on the rail; `since_at` is when the oldest open look came due."""

    sticks: Sequence[DueStick]
    since_at: datetime | None
    next_at: datetime

    @property
    def due(self) -> int:
        """How many sticks wait to be weighed."""
        return sum(stick.due for stick in self.sticks)


def look_at(
    hanging: Sequence[HangingGroup],
    reminders: Sequence[Reminder],
    works: Sequence[Work],
    *,
    at: Sequence[time],
    zone: ZoneInfo,
    now: datetime,
    skips: Mapping[str, Skip] | None = None,
) -> Look:
    """Return the look that is due now. `at`: the settings' times of day for it.

    A stick is due from the reminder of its batch in its room until it has been weighed for that
    look or skipped; one that was cut open or pulled is due no more. `skips` are by tag.
    """
    newest = {(reminder.batch_number, reminder.room): reminder for reminder in reminders}
    waiting = {
        tag: newest[work.batch_number, work.room].since_at
        for work in works
        if (work.batch_number, work.room) in newest
        for tag in _left(work, newest[work.batch_number, work.room], at, zone)
    }
    sticks = []
    for hung, stick in tagged_in(hanging):
        due = stick.tag in waiting
        skip = None if due else (skips or {}).get(stick.tag)
        skipped = _in_force(skip, stick, zone, now=now)
        done = not due and weighed_on(stick, day_of(now, zone), zone) is not None
        sticks.append(DueStick(hung=hung, stick=stick, done=done, due=due, skipped=skipped))
    return Look(
        sticks=sticks,
        since_at=min((waiting[one.stick.tag] for one in sticks if one.due), default=None),
        next_at=next_due(now, at=at, zone=zone).at,
    )


def _left(work: Work, reminder: Reminder, at: Sequence[time], zone: ZoneInfo) -> tuple[str, ...]:
    counts_from_at = counts_from(reminder.due_at, at=at, zone=zone)
    return left(work, due_at=reminder.due_at, counts_from_at=counts_from_at).tags


def _in_force(skip: Skip | None, stick: Stick, zone: ZoneInfo, *, now: datetime) -> Skip | None:
    """Return a skip that counts today: none was weighed since, and it is of today or for good."""
    if skip is None or any(look.taken_at >= skip.at for look in stick.weigh_ins):
        return None
    today = day_of(skip.at, zone) == day_of(now, zone)
    return skip if today or skip.reason in FOR_GOOD else None


def say_due(look: Look, zone: ZoneInfo, *, now: datetime) -> str | None:
    """Return for example 'Inspection due since 08:00 today: 6 sticks', or None where none is."""
    if look.since_at is None:
        return None
    return _("Inspection due since {since}: {sticks}").format(
        since=say_since(look.since_at, zone, now=now), sticks=say_sticks(look.due)
    )


def say_next(look: Look, zone: ZoneInfo) -> str:
    """Return for example 'Next inspection Thu 26 Nov 08:00'."""
    return _("Next inspection {day} {clock}").format(
        day=say_day(look.next_at, zone), clock=say_clock(look.next_at, zone)
    )


def say_sticks(count: int) -> str:
    """Return for example '1 stick' or '6 sticks'."""
    return _("1 stick") if count == 1 else _("{count} sticks").format(count=count)
