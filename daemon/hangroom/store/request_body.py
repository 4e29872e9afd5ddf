"""Reading a wish's body, which is another process's JSON: whatever stands there, nothing breaks.

Each function returns the entry or raises InputError that says what to ask for instead.
"""

from collections.abc import Mapping
from enum import StrEnum
from math import isfinite
from typing import TypeVar

from hangroom.errors import InputError

LONGEST_WORDS = 200
LARGEST_NUMBER = 10**9

Choice = TypeVar("Choice", bound=StrEnum)


def entry(body: object, name: str) -> object:
    """Return an entry as it stands, None where there is none or the body is no table."""
    return body.get(name) if isinstance(body, Mapping) else None


def figure(body: object, name: str) -> float:
    """Return a finite number."""
    value = entry(body, name)
    if isinstance(value, bool) or not isinstance(value, float | int) or not isfinite(value):
        raise InputError(f"It names no {name!r} as a number. Ask again with one.")
    return float(value)


def whole_or_none(body: object, name: str) -> int | None:
    """Return a whole number from 1 on, or None where the entry is null or missing."""
    if entry(body, name) is None:
        return None
    value = figure(body, name)
    if not (value.is_integer() and 1 <= value <= LARGEST_NUMBER):
        raise InputError(f"{name!r} is {value:g} and no number of anything. Ask again with one.")
    return int(value)


def figure_or_none(body: object, name: str) -> float | None:
    """Return a finite number, or None where the entry is null or missing."""
    return None if entry(body, name) is None else figure(body, name)


def switch(body: object, name: str) -> bool:
    """Return true or false."""
    value = entry(body, name)
    if not isinstance(value, bool):
        raise InputError(f"It does not say whether {name!r}. Ask again with true or false.")
    return value


def words(body: object, name: str) -> str:
    """Return some words on one line, cut where they are very long."""
    value = entry(body, name)
    # Half a surrogate pair is legal in JSON, and no database takes it.
    plain = value.encode("utf-8", "ignore").decode() if isinstance(value, str) else ""
    said = " ".join(plain.split())[:LONGEST_WORDS]
    if not said:
        raise InputError(f"It says nothing under {name!r}; the record keeps that. Ask again.")
    return said


def choice(body: object, name: str, choices: type[Choice]) -> Choice:
    """Return one of the words of an enumeration."""
    value = entry(body, name)
    if not isinstance(value, str) or value not in set(choices):
        raise InputError(f"{name!r} must be one of: {', '.join(choices)}. Ask again with one.")
    return choices(value)


def choice_or_none(body: object, name: str, choices: type[Choice]) -> Choice | None:
    """Return one of the words of an enumeration, or None where the entry is null or missing."""
    return None if entry(body, name) is None else choice(body, name, choices)
