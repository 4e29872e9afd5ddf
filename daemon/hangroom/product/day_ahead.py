"""What the keeper's day brings, in a group's own hours: the next look, the night. Pure."""

from collections.abc import Sequence
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from hangroom.product.daily_look import due_on, next_due
from hangroom.product.forecast_warnings import Ahead

# When nobody looks in on sticks. Common practice, no source.
NIGHT_FROM, NIGHT_TO = time(22, 0), time(6, 0)


def ahead_of(now: datetime, hung_at: datetime, *, zone: ZoneInfo, look_at: Sequence[time]) -> Ahead:
    """Return what the keeper's day brings, in hours since hanging."""
    next_at = next_due(now, at=look_at, zone=zone).at
    today = now.astimezone(zone).date()
    # Before six in the morning the night that matters is the one that is on.
    evening = today - timedelta(days=now.astimezone(zone).time() < NIGHT_TO)
    from_at = due_on(evening, at=NIGHT_FROM, zone=zone)
    to_at = due_on(evening + timedelta(days=1), at=NIGHT_TO, zone=zone)

    def since_hung_h(moment: datetime) -> float:
        return (moment - hung_at) / timedelta(hours=1)

    return Ahead(
        inspection_h=since_hung_h(next_at),
        night_from_h=since_hung_h(from_at),
        night_to_h=since_hung_h(to_at),
    )
