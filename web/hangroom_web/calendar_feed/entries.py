"""What shall stand in the calendar now: the daily looks to come, and when each group is expected.

Pure. Moments are to the full hour where a forecast made them, and words name no moment by its
distance from now: what stays true stays the same, so that nothing moves in a phone without need.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hangroom.product.daily_look import due_on
from hangroom.store.calendar_events import CalendarEntry
from hangroom_web.dates import day_of, say_clock, say_day
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.forecasts.wording import say_never
from hangroom_web.look import say_sticks
from hangroom_web.rail import HangingGroup
from hangroom_web.words import _

LOOK_DAYS = 14
# How long a look takes; about a minute a stick, our estimate.
LOOK_LASTS = timedelta(minutes=15)
# A group that should have been pulled is looked for a day longer, in case it still hangs.
LOOKED_FOR_AFTER = timedelta(days=1)
SHORTEST_WINDOW = timedelta(hours=1)
HALF_AN_HOUR = timedelta(minutes=30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rail:
    """What hangs, what was foretold of each group by its number, and what the rooms are called."""

    hanging: Sequence[HangingGroup]
    foretold: Mapping[int, Foretold]
    rooms: Mapping[str, str]


def entries(
    rail: Rail, *, look_times: Sequence[time], zone: ZoneInfo, now: datetime
) -> list[CalendarEntry]:
    """Return every look of the days to come and every expected window, for as long as they hold.

    `look_times`: when a look is due each day, in the site's zone.
    """
    windows = {
        one.group.number: window
        for one in rail.hanging
        if (window := _window(one, rail.foretold[one.group.number], zone)) is not None
    }
    looks = []
    for ahead in range(LOOK_DAYS + 1):
        day = day_of(now, zone) + timedelta(days=ahead)
        for which, at in enumerate(sorted(look_times), start=1):
            due_at = due_on(day, at=at, zone=zone)
            there = [
                one
                for one in rail.hanging
                if _hangs_at(one, due_at, rail.foretold[one.group.number], now=now)
            ]
            if there:
                looks.append(_look(f"look-{day:%Y%m%d}-{which}", due_at, there, rail.rooms))
    return [*looks, *windows.values()]


def _hangs_at(one: HangingGroup, at: datetime, told: Foretold, *, now: datetime) -> bool:
    """Whether a group is expected on the rail at a moment; while nobody can tell, it is."""
    if one.group.hung_at is None or at < one.group.hung_at:
        return False
    kept = told.kept
    if kept is None or kept.forecast.p90_h is None:
        return True
    return at <= max(told.moment(kept.forecast.p90_h), now) + LOOKED_FOR_AFTER


def _look(
    uid: str, due_at: datetime, there: Sequence[HangingGroup], rooms: Mapping[str, str]
) -> CalendarEntry:
    tagged = sum(len(one.group.tagged) for one in there)
    title = _("Weigh and look: {sticks}").format(sticks=say_sticks(tagged))
    lines = [
        _("{title} ({name}), {room}: {tags}").format(
            title=one.title,
            name=plain(one.batch.name),
            room=rooms.get(one.group.room or "", one.group.room),
            tags=", ".join(stick.tag for stick in one.group.tagged) or _("none tagged"),
        )
        for one in there
    ]
    lines.append(
        _("Look for wrinkles, mould, slime, insects, drip, and sticks that touch each other.")
    )
    return CalendarEntry(
        uid=uid,
        starts_at=due_at,
        ends_at=due_at + LOOK_LASTS,
        remind_at=due_at,
        tentative=False,
        title=title if tagged else _("Look at the sticks"),
        text="\n".join(lines),
        path="/inspect",
    )


def _window(one: HangingGroup, told: Foretold, zone: ZoneInfo) -> CalendarEntry | None:
    """Return when a group is expected, None where nothing can be told or it never arrives."""
    made_of = _of_forecast(told, zone) if told.kept is not None else _of_line(told, zone)
    if made_of is None:
        return None
    target = f"{one.group.target_yield_pct:g} %"
    if told.arrived:
        head = _("{target} likely reached")
    elif made_of.open_end:
        head = _("{target} not before this")
    else:
        head = _("{target} expected")
    lines = [
        _("{name}. Target: {target} of green weight.").format(
            name=plain(one.batch.name), target=target
        ),
        *([_("By the forecast it is there: pull it when it suits you.")] if told.arrived else []),
        *made_of.lines,
        _("It moves as weights come in; the page has the newest. Weigh it to know."),
    ]
    return CalendarEntry(
        uid=f"window-{one.group.key}",
        starts_at=made_of.starts_at,
        ends_at=max(made_of.ends_at, made_of.starts_at + SHORTEST_WINDOW),
        remind_at=made_of.likely_at,
        tentative=True,
        title=_("{title}: {head}").format(title=plain(one.title), head=head.format(target=target)),
        text="\n".join(lines),
        path=f"/batches/{one.batch.number}",
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Window:
    starts_at: datetime
    ends_at: datetime
    likely_at: datetime | None
    lines: Sequence[str]
    open_end: bool = False


def _of_forecast(told: Foretold, zone: ZoneInfo) -> _Window | None:
    kept = told.kept
    if kept is None or kept.forecast.p10_h is None:
        return None
    forecast = kept.forecast
    earliest = to_the_hour(told.moment(kept.forecast.p10_h), zone)
    likely = None if forecast.p50_h is None else to_the_hour(told.moment(forecast.p50_h), zone)
    latest = None if forecast.p90_h is None else to_the_hour(told.moment(forecast.p90_h), zone)
    lines = []
    if latest is not None and likely is not None:
        lines.append(
            _("Between {earliest} and {latest} 8 times in 10, most likely {likely}.").format(
                earliest=_say(earliest, zone), latest=_say(latest, zone), likely=_say(likely, zone)
            )
        )
    else:
        lines.append(
            _("Hardly before {earliest}; no end can be given.").format(
                earliest=_say(earliest, zone)
            )
        )
        if likely is not None:
            lines.append(_("Most likely {likely}.").format(likely=_say(likely, zone)))
    lines.append(
        _("Never, in the air that is planned: {never}.").format(never=say_never(forecast.never_pct))
    )
    made = _say(kept.made_at, zone)
    lines.append(
        _("An old forecast, made {made}; no newer one could be made.").format(made=made)
        if told.old
        else _("A forecast, made {made}.").format(made=made)
    )
    return _Window(
        starts_at=earliest,
        ends_at=earliest if latest is None else latest,
        likely_at=likely,
        lines=lines,
        open_end=latest is None,
    )


def _of_line(told: Foretold, zone: ZoneInfo) -> _Window | None:
    """Return the straight line's window, if weights of this group stand behind it."""
    line = told.line
    if line is None or not line.weighed or line.window is None or line.window.likely_at is None:
        return None
    window = line.window
    earliest, likely, latest = (
        to_the_hour(at, zone)
        for at in (window.earliest_at, line.window.likely_at, window.latest_at)
    )
    said = _("Between {earliest} and {latest}, most likely {likely}.").format(
        earliest=_say(earliest, zone), latest=_say(latest, zone), likely=_say(likely, zone)
    )
    return _Window(
        starts_at=earliest,
        ends_at=latest,
        likely_at=likely,
        lines=[
            said,
            _("No forecast yet: a straight line through the last two looks, wide on purpose."),
        ],
    )


def to_the_hour(at: datetime, zone: ZoneInfo) -> datetime:
    """Return the nearest full hour of the site's clock, UTC: as exactly as a forecast knows."""
    local = (at + HALF_AN_HOUR).astimezone(zone)
    return local.replace(minute=0, second=0, microsecond=0).astimezone(UTC)


def plain(text: str) -> str:
    """Return a text on one line, without the control characters that RFC 5545 (3.1) forbids."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _say(at: datetime, zone: ZoneInfo) -> str:
    return f"{say_day(at, zone)} {say_clock(at, zone)}"
