"""Where a time axis has its marks: at round local times, however long the local day. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from hangroom_web.dates import say_weekday
from hangroom_web.words import _

# All zones' offsets are whole quarters of an hour (IANA time zone database, since 1972).
_QUARTER = timedelta(minutes=15)
_HOURS = (1, 2, 3, 4, 6, 12)
_DAYS = (1, 2, 4, 7, 14, 28, 91, 182, 364)
MOST_WORDS = 6
MOST_MARKS = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """A mark on the axis, its words '' where there is no room for them."""

    at: datetime
    words: str


def ticks(since: datetime, until: datetime, zone: ZoneInfo) -> Sequence[Tick]:
    """Return the marks of a time, oldest first.

    Marks stand at true distances: a day of 25 hours is longer, and its doubled hour has two.
    """
    long_h = (until - since) / timedelta(hours=1)
    step_h = next((hours for hours in _HOURS if long_h / hours <= MOST_WORDS), None)
    if step_h is not None:
        return _by_hours(since, until, zone, step_h)
    return _by_days(since, until, zone)


def _by_hours(since: datetime, until: datetime, zone: ZoneInfo, step_h: int) -> list[Tick]:
    found = []
    at = datetime.fromtimestamp(-(-since.timestamp() // 900) * 900, UTC)
    while at <= until:
        local = at.astimezone(zone)
        if local.minute == 0 and local.hour % step_h == 0:
            words = say_weekday(at, zone) if local.hour == 0 else f"{local:%H:%M}"
            found.append(Tick(at=at, words=words))
        at += _QUARTER
    return found


def _by_days(since: datetime, until: datetime, zone: ZoneInfo) -> list[Tick]:
    long_d = (until - since) / timedelta(days=1)
    words_d = next((days for days in _DAYS if long_d / days <= MOST_WORDS), _DAYS[-1])
    marks_d = next((days for days in _DAYS if long_d / days <= MOST_MARKS), _DAYS[-1])
    found = []
    day = since.astimezone(zone).date()
    while (at := _starts(day.toordinal(), zone)) <= until:
        place = day.toordinal()
        if at >= since and (place % marks_d == 0 or place % words_d == 0):
            said = ""
            if place % words_d == 0:
                said = (
                    say_weekday(at, zone)
                    if words_d <= 2  # noqa: PLR2004 - beyond, the month tells more than the day
                    else _("{day} {month}").format(day=day.day, month=f"{day:%b}")
                )
            found.append(Tick(at=at, words=said))
        day += timedelta(days=1)
    return found


def _starts(ordinal: int, zone: ZoneInfo) -> datetime:
    """Return when a local day starts."""
    return datetime.fromordinal(ordinal).replace(tzinfo=zone).astimezone(UTC)
