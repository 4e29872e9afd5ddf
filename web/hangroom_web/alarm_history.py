"""What happened to alarms, by day for the page and line by line for a spreadsheet. Pure."""

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import StringIO
from itertools import groupby

from hangroom.alarm_table.row import AlarmId, Priority
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.titles import TITLES
from hangroom.alarm_table.words import Event
from hangroom.product.csv_cells import csv_row
from hangroom.store.alarms import Logged
from hangroom_web.alarm_words import EVENTS, say_figures, say_why
from hangroom_web.alarms import Circumstances, say_where
from hangroom_web.dates import day_of, say_clock, say_day
from hangroom_web.site import Site
from hangroom_web.words import _

# What nobody did and nobody need know; it stands in the file.
BY_DESIGN = frozenset({Event.SUPPRESSED, Event.UNSUPPRESSED})

COLUMNS = (
    *("time", "where", "alarm", "title", "priority", "event", "suppression", "occurrences"),
    *("by", "reason", "figures, SI"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing that happened."""

    clock: str
    where: str
    title: str
    priority: Priority
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayOfAlarms:
    """A day's lines, the newest first."""

    day: str
    lines: Sequence[Line]


def days_of(logged: Iterable[Logged], *, site: Site) -> list[DayOfAlarms]:
    """Return what happened by local day, the newest first; what is quiet by design left out."""
    told = [one for one in logged if one.event.event not in BY_DESIGN]
    told.reverse()
    return [
        DayOfAlarms(
            day=say_day(of_day[0].event.at, site.zone), lines=[_line(one, site) for one in of_day]
        )
        for _day, found in groupby(told, key=lambda one: day_of(one.event.at, site.zone))
        if (of_day := list(found))
    ]


def circumstances_in(logged: Iterable[Logged]) -> Circumstances:
    """Return why each alarm was last kept quiet by design."""
    last: dict[tuple[str, AlarmId], str] = {}
    for one in logged:
        if one.event.event is Event.SUPPRESSED:
            last[one.scope, one.event.alarm] = one.event.reason
    return last


def as_csv(logged: Iterable[Logged], *, site: Site) -> str:
    """Return all that happened, oldest first, times as ISO 8601 with offset, figures in SI."""
    text = StringIO()
    rows = csv.writer(text)
    rows.writerow(COLUMNS)
    for one in logged:
        event = one.event
        rows.writerow(
            csv_row(
                (
                    event.at.astimezone(site.zone).isoformat(timespec="seconds"),
                    say_where(one.scope, site),
                    event.alarm,
                    TITLES[event.alarm],
                    TABLE[event.alarm].priority,
                    event.event,
                    event.suppression,
                    event.occurrences,
                    event.by,
                    event.reason,
                    "; ".join(f"{name} {value:g}" for name, value in event.figures.items()),
                )
            )
        )
    return text.getvalue()


def _line(one: Logged, site: Site) -> Line:
    event = one.event
    why = event.reason
    if event.event is Event.ACTIVATED:
        why = say_why(event.reason, event.figures, site.units)
    figures = say_figures(event.figures, site.units)
    said = EVENTS[event.event]
    if event.by:
        said = _("{said} by {by}").format(said=said, by=event.by)
    more = ", ".join(part for part in (why, figures) if part)
    return Line(
        clock=say_clock(event.at, site.zone),
        where=say_where(one.scope, site),
        title=TITLES[event.alarm],
        priority=TABLE[event.alarm].priority,
        said=f"{said}: {more}" if more else said,
    )
