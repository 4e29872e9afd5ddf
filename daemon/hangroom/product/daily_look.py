"""When the daily look at the rail is due: local days, UTC moments.

Idempotent by local date, so that a clock change, a power cut or a second look at the question
can neither skip a day's look nor ask for it twice.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo


def due_on(day: date, *, at: time, zone: ZoneInfo) -> datetime:
    """Return the moment (UTC) of a local day's look.

    Where the clock skips `at` that night, the look is due at the same distance after midnight
    as usual; where `at` comes twice, the first time counts.
    """
    return datetime.combine(day, at, tzinfo=zone).astimezone(UTC)


def latest_due(now: datetime, *, at: time, zone: ZoneInfo) -> tuple[date, datetime]:
    """Return the local day and moment (UTC) of the newest look that is due by `now`."""
    today = now.astimezone(zone).date()
    due_at = due_on(today, at=at, zone=zone)
    if due_at <= now:
        return today, due_at
    yesterday = today - timedelta(days=1)
    return yesterday, due_on(yesterday, at=at, zone=zone)


def next_due(now: datetime, *, at: time, zone: ZoneInfo) -> tuple[date, datetime]:
    """Return the local day and moment (UTC) of the first look after `now`."""
    day, _ = latest_due(now, at=at, zone=zone)
    tomorrow = day + timedelta(days=1)
    return tomorrow, due_on(tomorrow, at=at, zone=zone)
