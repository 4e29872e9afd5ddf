"""Between aware datetimes and the UTC milliseconds that tables hold."""

from datetime import UTC, datetime, timedelta

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def to_ms(moment: datetime) -> int:
    """Return whole UTC milliseconds since 1970 of an aware datetime."""
    return round((moment - _EPOCH) / timedelta(milliseconds=1))


def from_ms(ms: int) -> datetime:
    """Return the aware UTC datetime of whole milliseconds since 1970."""
    return _EPOCH + timedelta(milliseconds=ms)
