"""The form for a new batch: read with every fault beside its field, shown again as it was typed."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from hangroom.errors import InputError
from hangroom.store.batches import NewGroup, NewStick
from hangroom.units import Units, length_stored, typed_number, weight_stored
from hangroom_web.words import _

GROUPS = ("A", "B")
FINISHES = {"A": _("supple"), "B": _("snap")}
TARGETS = {"A": "72", "B": "60"}
FIRST_ROWS, MORE_ROWS, MOST_ROWS = 3, 3, 12
STICK_FIELDS = ("tag", "green", "hung", "across", "length")
TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9-]{0,7}")
LONGEST_NAME = 60
MOST_STICKS = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What was typed, by field name; what is wrong, by field name; what it means if nothing is."""

    typed: Mapping[str, str]
    rows: int
    faults: Mapping[str, str] = field(default_factory=dict)
    groups: Sequence[NewGroup] = ()

    @classmethod
    def empty(cls, *, rooms: Sequence[str]) -> "Draft":
        """Return a fresh form with the usual two finishes."""
        typed = {}
        for letter in GROUPS:
            typed[f"{letter}-finish"] = FINISHES[letter]
            typed[f"{letter}-target"] = TARGETS[letter]
            typed[f"{letter}-room"] = rooms[0]
        return cls(typed=typed, rows=FIRST_ROWS)

    @property
    def name(self) -> str:
        """The batch's name as typed."""
        return self.typed.get("name", "").strip()

    @property
    def note(self) -> str:
        """The note as typed."""
        return self.typed.get("note", "").strip()[:1000]

    def with_more_rows(self) -> "Draft":
        """Return the form with room for more sticks and nothing complained about yet."""
        return replace(self, rows=min(self.rows + MORE_ROWS, MOST_ROWS), faults={})

    def with_fault(self, name: str, said: str) -> "Draft":
        """Return the form with one more fault."""
        return replace(self, faults={**self.faults, name: said})


def read_draft(
    form: Mapping[str, str], *, rooms: Sequence[str], now: datetime, units: Units
) -> Draft:
    """Return the form read: groups to store, or every fault in it."""
    rows = form.get("rows", "")
    draft = Draft(
        typed=dict(form),
        rows=min(int(rows), MOST_ROWS) if rows.isdecimal() and len(rows) < 4 else FIRST_ROWS,  # noqa: PLR2004
    )
    faults: dict[str, str] = {}
    if not 0 < len(draft.name) <= LONGEST_NAME:
        faults["name"] = _("Give the batch a name of up to {most} letters.").format(
            most=LONGEST_NAME
        )
    groups = [
        group
        for letter in GROUPS
        if (group := _group(draft, letter, rooms=rooms, now=now, units=units, faults=faults))
    ]
    if not groups and not faults:
        faults["A-0-tag"] = _("Tag at least one stick, or there is nothing to weigh later.")
    return replace(draft, faults=faults, groups=groups)


def _group(
    draft: Draft,
    letter: str,
    *,
    rooms: Sequence[str],
    now: datetime,
    units: Units,
    faults: dict[str, str],
) -> NewGroup | None:
    """Return a group, or None where no stick of it was typed or something in it is wrong."""
    typed, before = draft.typed, len(faults)
    sticks = []
    for row in range(draft.rows):
        values = {name: typed.get(f"{letter}-{row}-{name}", "").strip() for name in STICK_FIELDS}
        if any(values.values()):
            sticks.append(_stick(values, f"{letter}-{row}-", units, faults))
    if not sticks:
        return None
    finish = typed.get(f"{letter}-finish", "").strip()
    if not 0 < len(finish) <= LONGEST_NAME:
        faults[f"{letter}-finish"] = _("Say how this group shall be, for example supple.")
    target_pct = _number(typed, f"{letter}-target", _("target"), faults, lowest=20, highest=100)
    count = _number(
        typed,
        f"{letter}-sticks",
        _("number of sticks"),
        faults,
        lowest=len(sticks),
        highest=MOST_STICKS,
    )
    room = typed.get(f"{letter}-room", "")
    if room not in rooms:
        faults[f"{letter}-room"] = _("Choose one of the rooms.")
    if len(faults) > before:
        return None
    return NewGroup(
        letter=letter,
        finish=finish,
        target_yield_pct=target_pct,
        sticks=round(count),
        tagged=[stick for stick in sticks if stick is not None],
        room=room,
        hung_at=now,
    )


def _number(
    typed: Mapping[str, str],
    name: str,
    what: str,
    faults: dict[str, str],
    *,
    lowest: float,
    highest: float,
) -> float:
    try:
        value = typed_number(typed.get(name, ""), what=what)
    except InputError as fault:
        faults[name] = str(fault)
        return lowest
    if not lowest <= value <= highest:
        faults[name] = _("The {what} must lie between {lowest:g} and {highest:g}.").format(
            what=what, lowest=lowest, highest=highest
        )
    return value


def _stick(
    values: Mapping[str, str], prefix: str, units: Units, faults: dict[str, str]
) -> NewStick | None:
    before = len(faults)
    if not TAG.fullmatch(values["tag"]):
        faults[f"{prefix}tag"] = _("A tag has up to 8 letters and digits, for example A1.")

    def amount(name: str, *, needed: bool) -> float | None:
        if not values[name] and not needed:
            return None
        try:
            if name in {"green", "hung"}:
                return weight_stored(values[name], units)
            length_mm = length_stored(values[name], units)
        except InputError as fault:
            faults[f"{prefix}{name}"] = str(fault)
            return None
        return length_mm or None

    green_g, hung_g = amount("green", needed=True), amount("hung", needed=False)
    across_mm, length_mm = amount("across", needed=False), amount("length", needed=False)
    if green_g is not None and hung_g is not None and hung_g > green_g:
        faults[f"{prefix}hung"] = _("Heavier than raw? Check both weights.")
    if len(faults) > before or green_g is None:
        return None
    return NewStick(
        tag=values["tag"].upper(),
        green_weight_g=green_g,
        hang_weight_g=hung_g,
        hang_diameter_mm=across_mm,
        length_mm=length_mm,
    )
