"""The JSON that another program sends: read field by field, an unknown one refused by its name."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from hangroom.errors import InputError
from hangroom_web.forms import YEARS
from hangroom_web.words import _

# Longer ones are no numbers of ours, and more than the database holds.
LONGEST_WHOLE = 15


def read_body(data: bytes, known: frozenset[str]) -> Mapping[str, Any]:
    """Return the object that was sent; InputError where it is none, or has fields not known."""
    try:
        told = json.loads(data, parse_int=_whole)
    except (ValueError, RecursionError):
        told = None
    if not isinstance(told, dict):
        raise InputError(_("Send one JSON object. Nothing was changed."))
    strangers = sorted(set(told) - known)
    if strangers:
        raise InputError(
            _("There is no field {strangers}; the fields are {known}. Nothing was changed.").format(
                strangers=", ".join(map(repr, strangers)), known=", ".join(sorted(known))
            )
        )
    return told


def text(body: Mapping[str, Any], name: str, *, longest: int, needed: bool = False) -> str:
    """Return a text, '' where there is none."""
    told = body.get(name)
    if told is None and not needed:
        return ""
    if not isinstance(told, str) or not (told or not needed) or len(told) > longest:
        raise InputError(
            _("{name} is a text of at most {longest} characters. Nothing was changed.").format(
                name=name, longest=longest
            )
        )
    if not told.isprintable() and any("\ud800" <= letter <= "\udfff" for letter in told):
        raise InputError(
            _("{name} has half a character in it. Nothing was changed.").format(name=name)
        )
    return told


def number(body: Mapping[str, Any], name: str) -> float | None:
    """Return a number, None where there is none."""
    told = body.get(name)
    if told is None:
        return None
    if isinstance(told, bool) or not isinstance(told, int | float):
        raise InputError(_("{name} is a number. Nothing was changed.").format(name=name))
    return float(told)


def whole(body: Mapping[str, Any], name: str) -> int | None:
    """Return a whole number, None where there is none."""
    told = number(body, name)
    if told is None:
        return None
    if not told.is_integer():
        raise InputError(_("{name} is a whole number. Nothing was changed.").format(name=name))
    return int(told)


def flag(body: Mapping[str, Any], name: str) -> bool:
    """Return a flag, false where there is none."""
    told = body.get(name, False)
    if not isinstance(told, bool):
        raise InputError(_("{name} is true or false. Nothing was changed.").format(name=name))
    return told


def moment(body: Mapping[str, Any], name: str) -> datetime | None:
    """Return a moment with its offset from UTC, None where there is none."""
    told = body.get(name)
    if told is None:
        return None
    try:
        at = datetime.fromisoformat(told)
    except (TypeError, ValueError):
        at = None
    if at is None or at.tzinfo is None or at.year not in YEARS:
        raise InputError(
            _(
                "{name} is a time with its offset, as 2026-11-26T09:40:00-05:00. "
                "Nothing was changed."
            ).format(name=name)
        )
    return at


def _whole(digits: str) -> float:
    return int(digits) if len(digits) <= LONGEST_WHOLE else float(digits)
