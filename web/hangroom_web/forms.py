"""A form as it was typed: read field by field, every fault kept beside its field, doubts asked.

A fault must be mended; a question looks like a slip and may be kept as typed. Nothing is stored
while either stands, and what was typed goes back on the page. Pure.
"""

import secrets
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from math import inf
from types import MappingProxyType
from typing import TypeVar
from zoneinfo import ZoneInfo

from hangroom.errors import InputError
from hangroom.store.checks import AHEAD_AT_MOST
from hangroom.units import (
    GRAMS_PER_OUNCE,
    Units,
    length_stored,
    temperature_stored,
    typed_number,
    weight_stored,
)
from hangroom_web.dates import say_moment
from hangroom_web.words import _

T = TypeVar("T")
ChoiceT = TypeVar("ChoiceT", bound=StrEnum)

LONGEST_KEY = 64
LONGEST_LINE = 60
LONGEST_NOTE = 1000

# The units that a weight may be typed in where its field offers them.
GRAMS: Mapping[str, float] = MappingProxyType(
    {"g": 1.0, "kg": 1000.0, "oz": GRAMS_PER_OUNCE, "lb": 16.0 * GRAMS_PER_OUNCE}
)
OTHERWISE = "form"

# Those that a batch can be of; near the ends of the calendar no zone can be reckoned with.
YEARS = range(2000, 9000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A doubt about one field; `instead` is what may have been meant, as it would be typed.

    `may_keep` is False for what cannot be stored as it stands.
    """

    said: str
    instead: str | None = None
    may_keep: bool = True


class Form:
    """What was typed by field name, what is wrong with it, what is asked about it.

    `key` was made with the page, so that the same form sent twice is one entry.
    """

    def __init__(
        self, sent: Mapping[str, str], *, units: Units, zone: ZoneInfo, now: datetime
    ) -> None:
        self.typed = dict(sent)
        self.units, self.zone, self.now = units, zone, now
        self.faults: dict[str, str] = {}
        self.questions: dict[str, Question] = {}
        key = self.typed.get("key", "")
        sound = key.isascii() and key.isalnum() and len(key) <= LONGEST_KEY
        self.key = key if sound else secrets.token_hex(16)
        self._kept = self._answered()

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong and nothing is asked, as far as it was read."""
        return not (self.faults or self.questions)

    @property
    def kept(self) -> Mapping[str, str]:
        """What the keeper said is meant as typed, to be sent along with the next answer."""
        return {name: self.typed.get(name, "") for name in self._kept}

    def _answered(self) -> frozenset[str]:
        """Take the answers in: an answer counts only for what was asked about, not typed since."""
        typed = self.typed
        name, _colon, instead = typed.get("use", "").partition(":")
        if instead and typed.get(f"asked-{name}") == typed.get(name):
            typed[name] = instead
        kept = {
            field.removeprefix("kept-")
            for field, value in typed.items()
            if field.startswith("kept-") and typed.get(field.removeprefix("kept-")) == value
        }
        name = typed.get("keep", "")
        if name and typed.get(f"asked-{name}") == typed.get(name):
            kept.add(name)
        return frozenset(kept)

    def ask(self, name: str, question: Question | None) -> None:
        """Ask about a field, unless it was answered that it is meant as typed."""
        if question is not None and not (question.may_keep and name in self._kept):
            self.questions[name] = question

    def refuse(self, said: str, name: str = OTHERWISE) -> None:
        """Say what is wrong, with a field or with the form as a whole."""
        self.faults.setdefault(name, said)

    def has(self, *names: str) -> bool:
        """Whether anything was typed in one of the fields."""
        return any(self.raw(name) for name in names)

    def raw(self, name: str) -> str:
        """Return what was typed, without the spaces around it."""
        return self.typed.get(name, "").strip()

    def line(self, name: str, *, needed: str = "", longest: int = LONGEST_LINE) -> str:
        """Return some words; `needed` says what to write where there are none."""
        text = " ".join(self.raw(name).split())
        if needed and not text:
            self.refuse(needed, name)
        if len(text) > longest:
            self.refuse(_("Keep this under {most} letters.").format(most=longest + 1), name)
        return text

    def note(self, name: str = "note") -> str:
        """Return a note, which may have lines."""
        text = self.raw(name)
        if len(text) > LONGEST_NOTE:
            self.refuse(_("Keep the note under {most} letters.").format(most=LONGEST_NOTE), name)
        return text

    def weight_g(self, name: str, *, needed: bool = False, zero: bool = False) -> float | None:
        """Return a weight, g, in the unit chosen beside it, else the keeper's; None where empty."""
        unit = self.typed.get(f"{name}-unit", "")

        def read(typed: str) -> float:
            if zero and typed_number(typed, what=_("weight")) == 0:
                return 0.0
            if not unit:
                return weight_stored(typed, self.units)
            if unit not in GRAMS:
                raise InputError(_("Choose one of the units."))
            return GRAMS[unit] * weight_stored(typed, Units())

        return self._read(name, read, needed=needed)

    def length_mm(self, name: str, *, needed: bool = False, most_mm: float = inf) -> float | None:
        """Return a length above zero, mm; None where nothing was typed."""

        def read(typed: str) -> float:
            length_mm = length_stored(typed, self.units)
            if not 0 < length_mm <= most_mm:
                raise InputError(_("That is no length here. Measure again, or leave it empty."))
            return length_mm

        return self._read(name, read, needed=needed)

    def temperature_c(self, name: str, *, needed: bool = False) -> float | None:
        """Return a temperature, degC, typed in the keeper's unit; None where nothing was typed."""
        return self._read(name, lambda typed: temperature_stored(typed, self.units), needed=needed)

    def number(
        self, name: str, what: str, within: tuple[float, float], *, needed: bool = False
    ) -> float | None:
        """Return a number within the bounds; None where nothing was typed."""
        lowest, highest = within

        def read(typed: str) -> float:
            value = typed_number(typed, what=what)
            if not lowest <= value <= highest:
                raise InputError(
                    _("The {what} must lie between {lowest:g} and {highest:g}.").format(
                        what=what, lowest=lowest, highest=highest
                    )
                )
            return value

        return self._read(name, read, needed=needed)

    def whole(
        self, name: str, what: str, within: tuple[int, int], *, needed: bool = False
    ) -> int | None:
        """Return a whole number within the bounds; None where nothing was typed."""
        value = self.number(name, what, within, needed=needed)
        if value is None:
            return None
        if not value.is_integer():
            self.refuse(_("The {what} is a whole number.").format(what=what), name)
        return int(value)

    def one_of(self, name: str, choices: Collection[str], *, needed: bool = False) -> str | None:
        """Return what was chosen; None where nothing was."""

        def read(chosen: str) -> str:
            if chosen not in choices:
                raise InputError(_("Choose one of what is offered."))
            return chosen

        return self._read(name, read, needed=needed)

    def kind(self, name: str, kinds: type[ChoiceT], *, needed: bool = False) -> ChoiceT | None:
        """Return which of an enumeration was chosen; None where nothing was."""
        chosen = self.one_of(name, frozenset(kinds), needed=needed)
        return None if chosen is None else kinds(chosen)

    def moment(self, name: str) -> datetime:
        """Return a moment that has been, as typed in the site's zone; now where none was typed."""
        return self._read(name, self._been) or self.now

    def moment_or_none(self, name: str) -> datetime | None:
        """Return a moment that has been; None where none was typed."""
        return self._read(name, self._been)

    def _been(self, typed: str) -> datetime:
        return moment_been(typed, self.zone, now=self.now)

    def _read(self, name: str, read: Callable[[str], T], *, needed: bool = False) -> T | None:
        typed = self.raw(name)
        if not typed and not needed:
            return None
        try:
            return read(typed)
        except InputError as fault:
            self.refuse(str(fault), name)
            return None


def local_moment(typed: str, zone: ZoneInfo) -> datetime:
    """Return the moment, UTC, of a local date and time; InputError where it is none or is two."""
    try:
        local = datetime.fromisoformat(typed)
    except ValueError:
        local = None
    if local is None or ":" not in typed or local.year not in YEARS:
        raise InputError(_("Write date and time, for example 2026-11-26 09:40."))
    if local.tzinfo is not None:
        return local.astimezone(UTC)
    local = local.replace(tzinfo=zone)
    if local.utcoffset() != local.replace(fold=1).utcoffset():
        raise InputError(
            _("{typed} comes twice, or not at all, in the night the clocks change.").format(
                typed=typed.replace("T", " ")
            )
        )
    return local.astimezone(UTC)


def moment_been(typed: str, zone: ZoneInfo, *, now: datetime) -> datetime:
    """Return a moment as typed in a zone; InputError where it is none, or is still to come."""
    at = local_moment(typed, zone)
    if at > now + AHEAD_AT_MOST:
        raise InputError(
            _("{moment} is still to come; it is {now} now. Write when it was.").format(
                moment=say_moment(at, zone, now=now), now=say_moment(now, zone, now=now)
            )
        )
    # A phone's minute may be the one that the controller's clock reaches in a moment.
    return min(at, now)


def as_typed(at: datetime | None, zone: ZoneInfo) -> str:
    """Return a moment as a date and time field holds it, to the minute; '' for None."""
    return "" if at is None else f"{at.astimezone(zone):%Y-%m-%dT%H:%M}"
