"""Whole numbers out of an address: as many digits as the database holds, or no number at all."""

from werkzeug.routing import IntegerConverter

# SQLite's integers, and the numbers that every JSON reader holds exactly, have more (RFC 8259,
# section 6: 2^53); nothing that is counted here comes near.
MOST_DIGITS = 15


class WholeNumber(IntegerConverter):
    """The `int` of an address; longer ones lead to no page."""

    regex = rf"[0-9]{{1,{MOST_DIGITS}}}"


def whole_in(text: str) -> int | None:
    """Return the number that a text is, None where it is none."""
    plain = text.isascii() and text.isdecimal() and len(text) <= MOST_DIGITS
    return int(text) if plain else None
