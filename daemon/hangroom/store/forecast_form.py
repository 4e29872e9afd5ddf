"""Questions and forecasts as JSON, between the daemon and its child and in the store alike.

Strict: what does not read back as exactly what was written is refused, never guessed at.
"""

import json
from dataclasses import dataclass
from math import isfinite
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from hangroom.errors import InputError
from hangroom.product.forecast import Forecast, Question

# Raised whenever a field of a question or a forecast changes its meaning or comes to be.
VERSION = 1

FormT = TypeVar("FormT")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    version: int
    question: Question


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answered:
    version: int
    forecast: Forecast | None = None
    fault: str = ""


_ASKED = TypeAdapter(_Asked)
_ANSWERED = TypeAdapter(_Answered)


def written(form: TypeAdapter[FormT], value: FormT) -> str:
    """Return a value as JSON."""
    return form.dump_json(value).decode()


def read(form: TypeAdapter[FormT], text: str | bytes, *, what: str) -> FormT:
    """Return what JSON says; InputError for another version, form, or a figure that is none."""
    try:
        # Python's own reader first: it tells a figure without a value, and the version.
        plain = json.loads(text, parse_constant=_no_number, parse_float=_number)
    except (ValueError, RecursionError) as fault:
        raise InputError(f"The {what} is no JSON: {fault}.") from None
    version = plain.get("version") if isinstance(plain, dict) else None
    if version != VERSION:
        raise InputError(f"The {what} is of version {version!r}; this program reads {VERSION}.")
    try:
        value = form.validate_json(text, strict=True)
    except ValidationError as fault:
        first = fault.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise InputError(f"The {what} does not hold together at {where}: {first['msg']}.") from None
    if form.dump_python(value, mode="json") != plain:
        raise InputError(f"The {what} holds more than its form has, or less.")
    return value


def asked_as_json(question: Question) -> str:
    """Return a question as the child reads it."""
    return written(_ASKED, _Asked(version=VERSION, question=question))


def question_from_json(text: str | bytes) -> Question:
    """Return the question that the daemon wrote; InputError for what is none."""
    return read(_ASKED, text, what="question").question


def answered_as_json(answer: Forecast | str) -> str:
    """Return a forecast, or in words why there is none, as the daemon reads it."""
    if isinstance(answer, str):
        return written(_ANSWERED, _Answered(version=VERSION, fault=answer))
    return written(_ANSWERED, _Answered(version=VERSION, forecast=answer))


def answer_from_json(text: str | bytes) -> Forecast:
    """Return the forecast that the child wrote; InputError for what is none, with its reason."""
    answered = read(_ANSWERED, text, what="answer")
    if answered.forecast is None:
        raise InputError(answered.fault or "The answer holds neither a forecast nor a reason.")
    return answered.forecast


def _number(text: str) -> object:
    number = float(text)
    if not isfinite(number):
        raise ValueError(f"{text} is beyond every number")
    return number


def _no_number(text: str) -> Any:  # noqa: ANN401 - the reader's own signature
    raise ValueError(f"{text} is no number")
