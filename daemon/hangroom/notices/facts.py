"""Which facts give which notice. Pure: what was read in, notices out.

A notice's key is made from the fact alone, never from when it was looked at.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from hangroom.alarm_table.row import Priority, Row
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.titles import TITLES
from hangroom.alarm_table.words import Event, Suppression, Tell
from hangroom.alarm_words import URGENCY, say_figures, say_where, say_why
from hangroom.dates import say_hour, say_moment
from hangroom.product.daily_look import latest_due
from hangroom.product.day_ahead import ahead_of
from hangroom.product.forecast_warnings import Loudness, Warned, warnings_of
from hangroom.product.forecast_words import say
from hangroom.product.notice import Kind, Notice, Urgency, about
from hangroom.store.alarms import Logged
from hangroom.store.forecasts import KeptForecast
from hangroom.store.reminders import Reminder
from hangroom.store.summaries import Summary
from hangroom.units import Units

TOLD = frozenset({Tell.ANNUNCIATE, Tell.ANNUNCIATE_AGAIN})

# What is worth a notice of all that a forecast warns of, and how its title ends.
FORETOLD: Mapping[str, tuple[Kind, str]] = {
    "target-tonight": (Kind.TARGET, "may reach its target tonight"),
    "overshoot": (Kind.OVER_DRY, "will be drier than wanted by the next look"),
    "drying-too-fast": (Kind.TOO_FAST, "dries too fast"),
    "surface-sealed": (Kind.TOO_FAST, "dries too fast"),
    "loss-too-fast": (Kind.TOO_FAST, "dries too fast"),
}

# A forecast is made every hour; one that missed three of those warns of nothing, as on the page.
OLD_AFTER = timedelta(hours=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """What the keeper has set that notices speak of."""

    room_titles: Mapping[str, str]
    zone: ZoneInfo
    units: Units


def of_alarm(logged: Logged, *, site: Site, told_before: bool) -> Notice | None:
    """Return the notice of a line of the alarm log, None where nobody need be told.

    Only what the log says to annunciate, and of that nothing that is shelved, out of service or
    suppressed by design. `told_before`: the alarm was told of as on; only then is it told as over.
    """
    event = logged.event
    if event.suppression is not Suppression.NONE:
        return None
    over = event.event is Event.RETURNED_TO_NORMAL and told_before
    if event.tell not in TOLD and not over:
        return None
    row, where = TABLE[event.alarm], say_where(logged.scope, site.room_titles)
    title = TITLES[event.alarm]
    small = title[:1].lower() + title[1:]
    urgency = Urgency(row.priority)
    again = event.event is Event.RE_ALARMED
    return Notice(
        # Lines are numbered without gaps; after a power cut a number that was lost may come again,
        # for another line: the moment keeps the two apart.
        key=f"alarm {logged.scope} {event.sequence} {event.at.isoformat()}",
        kind=Kind.OVER if over else Kind.ALARM,
        urgency=Urgency.LOW if over else urgency,
        reaches=urgency,
        title=f"{where}: {small}{' (over)' if over else ' (still on)' if again else ''}",
        text=_say_over(row, site, event.at) if over else _say_alarm(logged, row, site),
        made_at=event.at,
        about=about(logged.scope, event.alarm),
    )


def _say_alarm(logged: Logged, row: Row, site: Site) -> str:
    event = logged.event
    by = say_moment(event.at + timedelta(seconds=row.respond_within_s), site.zone, now=event.at)
    seen = [
        say_figures(event.figures, site.units),
        say_why(event.reason, event.figures, site.units),
    ]
    lines = [
        f"{URGENCY[Priority(row.priority)]}, by {by}: {row.action}.",
        *(f"{_capital(one)}." for one in seen if one),
        f"The controller, by itself: {row.first}.",
        f"If nobody comes: {row.consequence}.",
    ]
    return "\n".join(lines)


def _say_over(row: Row, site: Site, at: datetime) -> str:
    latched = " It stays on the page until somebody resets it." if row.latching else ""
    return f"Returned to normal at {say_moment(at, site.zone, now=at)}.{latched}"


def of_forecast(
    kept: KeptForecast,
    *,
    batch: int,
    letter: str,
    look_at: Sequence[time],
    site: Site,
    now: datetime,
) -> Iterator[Notice]:
    """Return what a hanging group's newest forecast gives to tell, once from one day's look on.

    A louder warning of the same is told anew; the target of a night once for that night.
    """
    if not timedelta(0) <= now - kept.made_at <= OLD_AFTER:
        return
    group = f"batch {batch}, group {letter}"
    ahead = ahead_of(now, kept.hung_at, zone=site.zone, look_at=look_at)
    look_day = latest_due(now, at=look_at, zone=site.zone).day
    found = warnings_of(kept.forecast, group=group, diameter_mm=kept.diameter_mm, ahead=ahead)
    for kind, warned in _loudest(found).items():
        moment = look_day
        if kind is Kind.TARGET and ahead.night_from_h is not None:
            night = kept.hung_at + timedelta(hours=ahead.night_from_h)
            moment = night.astimezone(site.zone).date()
        title = FORETOLD[warned.remark.code][1]
        urgency = Urgency(warned.loudness)
        yield Notice(
            key=f"{kind} {batch} {letter} {moment.isoformat()} {urgency}",
            kind=kind,
            urgency=urgency,
            reaches=urgency,
            title=f"{_capital(group)} {title}",
            text=say(warned.remark, site.units, _Moments(kept.hung_at, site.zone, now).say),
            made_at=now,
        )


def _loudest(found: tuple[Warned, ...]) -> dict[Kind, Warned]:
    """Return the first warning of each kind that is told; they come the loudest first."""
    told: dict[Kind, Warned] = {}
    for one in found:
        if one.remark.code in FORETOLD:
            kind, _title = FORETOLD[one.remark.code]
            if kind is Kind.TARGET or one.loudness is Loudness.MEDIUM:
                told.setdefault(kind, one)
    return told


@dataclass(frozen=True, slots=True)
class _Moments:
    hung_at: datetime
    zone: ZoneInfo
    now: datetime

    def say(self, at_h: float) -> str:
        moment = self.hung_at + timedelta(hours=at_h)
        if moment < self.now:
            return say_moment(moment, self.zone, now=self.now)
        return say_hour(moment, self.zone, now=self.now)


def of_reminder(reminder: Reminder, *, now: datetime) -> Notice | None:
    """Return the notice of an open reminder, each time it is asked; None while it is snoozed.

    When it was asked is part of its key, as with a summary: one that a clock ahead made is
    withdrawn, and asked again when its day comes.
    """
    if reminder.done_at or (reminder.snoozed_until and reminder.snoozed_until > now):
        return None
    return Notice(
        key=(
            f"reminder {reminder.batch_number} {reminder.room} {reminder.due_date.isoformat()}"
            f" {reminder.due_clock} {reminder.times_asked} {reminder.asked_at.isoformat()}"
        ),
        kind=Kind.REMINDER,
        urgency=Urgency.MEDIUM,
        reaches=Urgency.MEDIUM,
        title=reminder.title,
        text=reminder.text,
        made_at=reminder.asked_at,
    )


def of_summary(summary: Summary) -> Notice:
    """Return the notice of a morning's summary."""
    return Notice(
        key=f"summary {summary.day.isoformat()} {summary.made_at.isoformat()}",
        kind=Kind.SUMMARY,
        urgency=Urgency.LOW,
        reaches=Urgency.LOW,
        title=summary.title,
        text=summary.text,
        made_at=summary.made_at,
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
