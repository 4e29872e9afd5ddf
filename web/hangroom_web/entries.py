"""From what was typed about a stick to an entry, or to what is wrong with it, field by field."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import TypeVar

from hangroom.errors import InputError
from hangroom.store.weigh_ins import NewWeighIn
from hangroom.units import Units, length_stored, weight_stored
from hangroom_web.surface import read_surface
from hangroom_web.words import _

T = TypeVar("T")

SQUEEZES = (1, 2, 3, 4, 5)
WRINKLES_MM = (0.0, 0.5, 1.0, 2.0, 3.0)
LONGEST_NOTE = 500
LONGEST_KEY = 64

# No stick hung here is thicker; a figure beyond it is a length or a slip.
THICKEST_MM = 80.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What is wrong with a form: a sentence for each field that has something wrong."""

    by_field: Mapping[str, str]


def read_entry(
    form: Mapping[str, str], *, tag: str, taken_at: datetime, units: Units, by: str
) -> NewWeighIn | Faults:
    """Return the weigh-in that a form holds, SI, or every fault found in it."""
    faults: dict[str, str] = {}

    def field(name: str, read: Callable[[str], T]) -> T | None:
        try:
            return read(form.get(name, ""))
        except InputError as fault:
            faults[name] = str(fault)
            return None

    weight_g = field("weight", lambda typed: weight_stored(typed, units))
    squeeze = field("squeeze", _squeeze)
    wrinkle_mm = field("wrinkle", _wrinkle_mm)
    diameter_mm = field("diameter", lambda typed: _diameter_mm(typed, units))
    note = field("note", _note)
    surface = field("surface", lambda _unused: read_surface(form))
    key = field("key", _key)
    if faults or weight_g is None or key is None:
        return Faults(by_field=faults)
    return NewWeighIn(
        key=key,
        tag=tag,
        taken_at=taken_at,
        weight_g=weight_g,
        squeeze=squeeze,
        wrinkle_mm=wrinkle_mm,
        diameter_mm=diameter_mm,
        note=note or "",
        surface=surface,
        entered_at=taken_at,
        entered_by=by,
    )


def _squeeze(chosen: str) -> int | None:
    if not chosen:
        return None
    if chosen not in {str(number) for number in SQUEEZES}:
        raise InputError(_("Squeeze is one of 1 to 5."))
    return int(chosen)


def _wrinkle_mm(chosen: str) -> float | None:
    if not chosen:
        return None
    known = {f"{depth_mm:g}": depth_mm for depth_mm in WRINKLES_MM}
    if chosen not in known:
        raise InputError(_("Choose one of the wrinkle depths."))
    return known[chosen]


def _diameter_mm(typed: str, units: Units) -> float | None:
    if not typed.strip():
        return None
    diameter_mm = length_stored(typed, units)
    if not 0 < diameter_mm <= THICKEST_MM:
        raise InputError(_("No stick is that thick. Measure across it, or leave this empty."))
    return diameter_mm


def _note(typed: str) -> str:
    if len(typed) > LONGEST_NOTE:
        raise InputError(_("Keep the note under {most} letters.").format(most=LONGEST_NOTE))
    return typed.strip()


def _key(sent: str) -> str:
    if not sent or len(sent) > LONGEST_KEY or not sent.isalnum():
        raise InputError(_("This form has lost its number. Load the page again; your entry stays."))
    return sent
