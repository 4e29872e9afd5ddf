"""Today's look at the rail: which sticks are due, since when, and what comes next. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from hangroom.product.daily_look import next_due
from hangroom.store.batches import Stick
from hangroom.store.reminders import Reminder
from hangroom_web.dates import day_of, say_clock, say_day, say_since
from hangroom_web.rail import HangingGroup, tagged_in, weighed_on
from hangroom_web.words import _


@dataclass(frozen=True, slots=True, kw_only=True)
class DueStick:
    """A tagged stick on the rail; `done` once it was weighed today, `due` where a look waits."""

    hung: HangingGroup
    stick: Stick
    done: bool
    due: bool


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
    *,
    at: str,
    zone: ZoneInfo,
    now: datetime,
) -> Look:
    """Return the look that is due now. `at` is the settings' time of day for it.

    A stick is due from its batch's reminder until it has been weighed on that local day or later.
    """
    newest = {reminder.batch_number: reminder for reminder in reminders}
    sticks, since = [], []
    for hung, stick in tagged_in(hanging):
        reminder = newest.get(hung.batch.number)
        due = (
            reminder is not None
            and hung.group.hung_at is not None
            and hung.group.hung_at <= reminder.due_at
            and not any(day_of(w.taken_at, zone) >= reminder.due_date for w in stick.weigh_ins)
        )
        if due and reminder is not None:
            since.append(reminder.due_at)
        done = weighed_on(stick, day_of(now, zone), zone) is not None
        sticks.append(DueStick(hung=hung, stick=stick, done=done, due=due))
    _day, next_at = next_due(now, at=time.fromisoformat(at), zone=zone)
    return Look(sticks=sticks, since_at=min(since, default=None), next_at=next_at)


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
