"""What every entry is held to before it is stored: real numbers, past moments, texts not too long.

Each refusal is an InputError that names the field, what was given and what to do.
"""

from datetime import UTC, datetime, timedelta
from math import inf, isfinite

from hangroom.errors import InputError

# A phone's clock and the Pi's may differ; an entry may be this much ahead of its own entering.
AHEAD_AT_MOST = timedelta(minutes=5)

# Before any batch that can be meant; a clock that lost its battery starts in 1970 or 2000.
EARLIEST = datetime(2015, 1, 1, tzinfo=UTC)

LONGEST_TEXT = 2000
LONGEST_KEY = 100
LONGEST_NAME = 100

ZERO_OR_MORE = (0.0, inf)

# Half a ton, g: more than any house hangs. What is beyond it is a slip that no figure after it,
# and no picture's scale, survives.
HEAVIEST_G = 500_000.0


def check_number(
    what: str, value: object, within: tuple[float, float], *, above: bool = False
) -> None:
    """Refuse what is no finite number within the bounds; `above`: the lower one is not allowed."""
    low, high = within
    if isinstance(value, bool) or not isinstance(value, int | float) or not isfinite(value):
        raise InputError(
            f"The {what} is {value!r}, which is no number. Enter it in digits; nothing was stored."
        )
    if not low <= value <= high or (above and value == low):
        bounds = f"above {low:g}" if above else f"{low:g} or more"
        if isfinite(high):
            bounds += f" and at most {high:g}"
        raise InputError(
            f"The {what} is {value:g}; it must be {bounds}. Check the entry and its unit; "
            "nothing was stored."
        )


def check_weight(what: str, value: object) -> None:
    """Refuse what is no weight above zero and below what a house can hang, g."""
    check_number(f"{what} in grams", value, (0.0, HEAVIEST_G), above=True)


def check_whole(what: str, value: object, within: tuple[int, int]) -> None:
    """Refuse what is no whole number within the bounds."""
    low, high = within
    if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
        raise InputError(
            f"The {what} is {value!r}; it must be a whole number from {low} to {high}. "
            "Nothing was stored."
        )


def check_text(
    what: str, value: object, *, needed: bool = False, longest: int = LONGEST_TEXT
) -> None:
    """Refuse what is no text, too long, or empty where something is needed."""
    if not isinstance(value, str) or len(value) > longest or (needed and not value.strip()):
        length = f"of 1 to {longest}" if needed else f"of up to {longest}"
        raise InputError(f"The {what} must be a text {length} letters. Nothing was stored.")


def check_moment(what: str, moment: datetime, *, entered_at: datetime) -> None:
    """Refuse a moment without a zone, before any batch that can be meant, or yet to come."""
    check_aware(what, moment)
    if moment > entered_at + AHEAD_AT_MOST:
        raise InputError(
            f"The {what}, {_said(moment)}, is in the future: it was entered at"
            f" {_said(entered_at)}. Check the date and the clock; nothing was stored."
        )
    if moment < EARLIEST:
        raise InputError(
            f"The {what}, {_said(moment)}, is too long ago. Check the date; nothing was stored."
        )


def check_aware(what: str, moment: datetime) -> None:
    """Refuse a moment that does not say its offset from UTC."""
    if moment.utcoffset() is None:
        raise InputError(
            f"The {what}, {moment.isoformat(sep=' ')}, has no time zone. Nothing was stored."
        )


def check_span(what: str, from_at: datetime, to_at: datetime | None) -> None:
    """Refuse an end before its start."""
    if to_at is not None and to_at < from_at:
        raise InputError(
            f"The {what} ends at {_said(to_at)}, before it starts at {_said(from_at)}. "
            "Check both times; nothing was stored."
        )


def _said(moment: datetime) -> str:
    return f"{moment.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
