"""Refusing figures that cannot be: one wording for all of the product's sums."""

from hangroom.errors import InputError


def require_within(what: str, number: float, low: float, high: float) -> None:
    """Raise InputError unless low <= number <= high; not-a-number is never within."""
    if not low <= number <= high:
        raise InputError(
            f"{what} is {number:g}; it must lie from {low:g} to {high:g}."
            " Nothing was worked out from it. Check the entry and its unit."
        )


def require_above_zero(what: str, number: float) -> None:
    """Raise InputError unless the number is finite and above zero."""
    if not 0.0 < number < float("inf"):
        raise InputError(
            f"{what} is {number:g}; it must be above zero."
            " Nothing was worked out from it. Check the entry and its unit."
        )
