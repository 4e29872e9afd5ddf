"""When the daily look at the rail is due: local days and times, UTC moments.

Idempotent by local date and time, so that a clock change, a power cut or a second look at the
question can neither skip a look nor ask for it twice.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

# A weight taken so long before a look came due still counts for it. In three hours a thin stick
# loses 0.35 to 1.6 % (`doneness.USUAL_LOSS_PCT_PER_DAY`), 0.3 to 1.3 g of 80 g, which is about as
# far as two weighings on a kitchen scale lie apart (`slips.SCALE_G`): weighing again would tell
# next to nothing. A weight of the evening before does not count for the morning.
COUNTS_BEFORE = timedelta(hours=3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A look that is due: its local day and time of day, and that moment (UTC)."""

    day: date
    clock: time
    at: datetime


def due_on(day: date, *, at: time, zone: ZoneInfo) -> datetime:
    """Return the moment (UTC) of a local day's look.

    Where the clock skips `at` that night, the look is due at the same distance after midnight
    as usual; where `at` comes twice, the first time counts.
    """
    return datetime.combine(day, at, tzinfo=zone).astimezone(UTC)


def latest_due(now: datetime, *, at: Sequence[time], zone: ZoneInfo) -> Due:
    """Return the newest look that is due by `now`."""
    return max(
        (due for due in _around(now, at, zone) if due.at <= now), key=lambda due: (due.at, due.day)
    )


def next_due(now: datetime, *, at: Sequence[time], zone: ZoneInfo) -> Due:
    """Return the first look after `now`."""
    return min(
        (due for due in _around(now, at, zone) if due.at > now), key=lambda due: (due.at, due.day)
    )


def counts_from(due_at: datetime, *, at: Sequence[time], zone: ZoneInfo) -> datetime:
    """Return from when on (UTC) a weight counts for a look: never for the one before as well."""
    before = max(other.at for other in _around(due_at, at, zone) if other.at < due_at)
    return due_at - min(COUNTS_BEFORE, (due_at - before) / 2)


def _around(now: datetime, at: Sequence[time], zone: ZoneInfo) -> Iterator[Due]:
    """Yield every look from two days before a moment to two days after it."""
    today = now.astimezone(zone).date()
    for days in range(-2, 3):
        day = today + timedelta(days=days)
        for clock in at:
            yield Due(day=day, clock=clock, at=due_on(day, at=clock, zone=zone))
