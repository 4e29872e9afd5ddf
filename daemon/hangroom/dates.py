"""Moments in words, always in the site's zone: for the page, and for what is sent."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from hangroom.units import say_duration


def day_of(at: datetime, zone: ZoneInfo) -> date:
    """Return the local day that a moment falls on."""
    return at.astimezone(zone).date()


def say_day(at: datetime, zone: ZoneInfo) -> str:
    """Return for example 'Thu 26 Nov'."""
    local = at.astimezone(zone)
    return f"{local:%a} {local.day} {local:%b}"


def say_weekday(at: datetime, zone: ZoneInfo) -> str:
    """Return for example 'Thu 26'."""
    local = at.astimezone(zone)
    return f"{local:%a} {local.day}"


def say_clock(at: datetime, zone: ZoneInfo) -> str:
    """Return for example '09:41'."""
    return f"{at.astimezone(zone):%H:%M}"


def say_moment(at: datetime, zone: ZoneInfo, *, now: datetime) -> str:
    """Return '09:41' for today and 'Thu 26 Nov 09:41' for any other day."""
    clock = say_clock(at, zone)
    return clock if day_of(at, zone) == day_of(now, zone) else f"{say_day(at, zone)} {clock}"


def say_hour(at: datetime, zone: ZoneInfo, *, now: datetime) -> str:
    """Return 'today 14:00', 'Fri 14:00' within a week, or 'Tue 8 Dec' beyond: as an estimate knows.

    To the nearest hour; a moment of the past is named with its full day.
    """
    nearest = (at + timedelta(minutes=30)).astimezone(zone)
    days = (day_of(nearest, zone) - day_of(now, zone)).days
    if days == 0:
        return f"today {nearest:%H}:00"
    if 0 < days < 7:  # noqa: PLR2004 - after a week the day's name would mean another day
        return f"{nearest:%a %H}:00"
    return say_day(nearest, zone)


def say_since(at: datetime, zone: ZoneInfo, *, now: datetime) -> str:
    """Return for example 'today 08:00', 'Wed', or 'Wed 18 Nov' where a week or more has passed."""
    days = (day_of(now, zone) - day_of(at, zone)).days
    if days == 0:
        return f"{say_clock(at, zone)} today"
    return f"{at.astimezone(zone):%a}" if 0 < days < 7 else say_day(at, zone)  # noqa: PLR2004 - a week


def say_ago(age_s: float) -> str:
    """Return for example '4 s ago'."""
    return f"{say_duration(age_s)} ago"
