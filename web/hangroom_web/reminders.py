"""What the daily look's reminders show: asked again, put off until, done; and the morning. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hangroom.product.daily_work import is_snoozed
from hangroom.store.reminders import Reminder
from hangroom.store.summaries import Summary
from hangroom_web.dates import day_of, say_clock, say_moment, say_since
from hangroom_web.words import _, in_a_sentence

# When 'this evening' begins. Common practice, no source.
EVENING = time(18)
# 'This evening' is offered as long as it is at least so far off.
EVENING_AHEAD = timedelta(hours=1)
HOURS = {"1h": timedelta(hours=1), "3h": timedelta(hours=3)}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReminderView:
    """The reminders of this moment; empty where nobody was asked.

    `due`: since when. `states`: how often it was asked, until when it is put off; one sentence if
    that is the same for all. `work`: title and lines of each. `later`: the times it can be put off
    to, as the form sends them and in words. `done`: what was done today, '' for nothing.
    """

    due: str = ""
    states: Sequence[str] = ()
    work: Sequence[tuple[str, Sequence[str]]] = ()
    later: Sequence[tuple[str, str]] = ()
    done: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SummaryView:
    """This morning's summary."""

    title: str
    lines: Sequence[str]
    made: str


def reminder_view(
    waiting: Sequence[Reminder],
    latest: Sequence[Reminder],
    *,
    at_most: timedelta,
    zone: ZoneInfo,
    now: datetime,
) -> ReminderView:
    """Return what the reminders show; `waiting`: the open ones, `latest`: the newest of each."""
    since_at = min((one.since_at for one in waiting), default=None)
    return ReminderView(
        due=""
        if since_at is None
        else _("Due since {since}.").format(since=say_since(since_at, zone, now=now)),
        states=_states(waiting, at_most, zone, now=now),
        work=[(one.title, one.text.splitlines()) for one in waiting],
        later=later_choices(at_most=at_most, zone=zone, now=now) if waiting else (),
        done="" if waiting else _done(latest, zone, now=now),
    )


def later_choices(*, at_most: timedelta, zone: ZoneInfo, now: datetime) -> list[tuple[str, str]]:
    """Return to when a look can be put off now: what the form sends, and in words."""
    words = {"1h": _("In 1 h"), "3h": _("In 3 h")}
    choices = [(value, words[value]) for value, ahead in HOURS.items() if ahead <= at_most]
    ahead = _until_evening(zone, now)
    if EVENING_AHEAD <= ahead <= at_most:
        choices.append(("evening", _("This evening, {clock}").format(clock=f"{EVENING:%H:%M}")))
    return choices


def put_off_s(choice: str, *, zone: ZoneInfo, now: datetime) -> float | None:
    """Return how long from now a choice of the form is, s; None for none that there is."""
    if choice == "evening":
        return _until_evening(zone, now).total_seconds()
    return HOURS[choice].total_seconds() if choice in HOURS else None


def summary_view(newest: Summary | None, *, zone: ZoneInfo, now: datetime) -> SummaryView | None:
    """Return this morning's summary; None where there is none of today."""
    if newest is None or newest.day != day_of(now, zone):
        return None
    return SummaryView(
        title=newest.title,
        lines=newest.text.splitlines(),
        made=_("Made at {clock}.").format(clock=say_clock(newest.made_at, zone)),
    )


def _until_evening(zone: ZoneInfo, now: datetime) -> timedelta:
    evening = datetime.combine(day_of(now, zone), EVENING, tzinfo=zone)
    return evening.astimezone(UTC) - now


def _states(
    waiting: Sequence[Reminder], at_most: timedelta, zone: ZoneInfo, *, now: datetime
) -> list[str]:
    said = [(one, _state(one, at_most, zone, now=now)) for one in waiting]
    different = {state for _one, state in said}
    if len(different) == 1:
        return [state for state in different if state]
    return [
        _("Batch {number}: {state}").format(number=one.batch_number, state=in_a_sentence(state))
        for one, state in said
        if state
    ]


def _state(one: Reminder, at_most: timedelta, zone: ZoneInfo, *, now: datetime) -> str:
    if one.snoozed_until is not None and is_snoozed(one.snoozed_until, now=now, at_most=at_most):
        return _("Put off until {moment}.").format(
            moment=say_moment(one.snoozed_until, zone, now=now)
        )
    if one.times_asked == 1:
        return ""
    return _("Asked {times} times, last {moment}.").format(
        times=one.times_asked, moment=say_moment(one.asked_at, zone, now=now)
    )


def _done(latest: Sequence[Reminder], zone: ZoneInfo, *, now: datetime) -> str:
    today = day_of(now, zone)
    done = [one for one in latest if one.done_at and day_of(one.done_at, zone) == today]
    if not done:
        return ""
    newest = max(done, key=lambda one: one.done_at or one.due_at)
    return _("The look that was due {since} is done, seen at {clock}.").format(
        since=say_since(newest.since_at, zone, now=now),
        clock=say_clock(newest.done_at or newest.due_at, zone),
    )
