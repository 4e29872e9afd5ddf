"""From what was typed about a stick to an entry, or to what is wrong with it, field by field."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo

from hangroom.errors import InputError
from hangroom.store.checks import check_weight
from hangroom.store.weigh_ins import NewWeighIn
from hangroom.units import Units, length_stored
from hangroom_web.forms import moment_been
from hangroom_web.scale_text import weight_read_g
from hangroom_web.surface import read_surface
from hangroom_web.words import _

T = TypeVar("T")

SQUEEZES = (1, 2, 3, 4, 5)
WRINKLES_MM = (0.0, 0.5, 1.0, 2.0, 3.0)
LONGEST_NOTE = 500
LONGEST_KEY = 64
LONGEST_MS = 15

# No stick hung here is thicker; a figure beyond it is a length or a slip.
THICKEST_MM = 80.0

# What waits on a phone for longer is no weight of a look any more; a clock that was set while it
# waited shows by a time that ran backwards. A minute of that is a phone's clock being put right.
LONGEST_WAIT = timedelta(days=7)
CLOCK_PUT_RIGHT = timedelta(minutes=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """What is wrong with a form: a sentence for each field that has something wrong."""

    by_field: Mapping[str, str]


def read_entry(
    form: Mapping[str, str],
    *,
    tag: str,
    now: datetime,
    begun_at: datetime,
    zone: ZoneInfo,
    units: Units,
    by: str,
) -> NewWeighIn | Faults:
    """Return the weigh-in that a form holds, SI, or every fault found in it.

    `begun_at`: when its batch began; it cannot have been weighed on the rail before.
    """
    faults: dict[str, str] = {}

    def field(name: str, read: Callable[[str], T]) -> T | None:
        try:
            return read(form.get(name, ""))
        except InputError as fault:
            faults[name] = str(fault)
            return None

    weight_g = field("weight", lambda typed: _weight_g(typed, units))
    squeeze = field("squeeze", _squeeze)
    wrinkle_mm = field("wrinkle", _wrinkle_mm)
    diameter_mm = field("diameter", lambda typed: _diameter_mm(typed, units))
    note = field("note", _note)
    surface = field("surface", lambda _unused: read_surface(form))
    key = field("key", read_key)
    taken_at = field("weighed", lambda typed: _taken_at(form, typed, now=now, zone=zone))
    if taken_at is not None and taken_at < begun_at:
        faults["weighed"] = _("Its batch had not begun then. Write when it was weighed.")
    if faults or weight_g is None or key is None or taken_at is None:
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
        entered_at=now,
        entered_by=by,
    )


def _weight_g(typed: str, units: Units) -> float:
    weight_g = weight_read_g(typed, units)
    check_weight("weight", weight_g)
    return weight_g


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


def _taken_at(form: Mapping[str, str], typed: str, *, now: datetime, zone: ZoneInfo) -> datetime:
    """Return when it was weighed: as typed, else as long ago as it waited on the phone."""
    if typed.strip():
        return moment_been(typed.strip(), zone, now=now)
    return now - waited(form)


def waited(form: Mapping[str, str]) -> timedelta:
    """Return how long an entry waited on the phone, by the phone's own clock at both ends.

    None of a phone's times is taken for itself, so it does not matter how wrong its clock is.
    Raises InputError where that cannot be.
    """
    taken, sent = form.get("taken_ms", ""), form.get("sent_ms", "")
    if not taken and not sent:
        return timedelta()
    if not (_is_ms(taken) and _is_ms(sent)):
        raise InputError(_("The phone sent no time that can be read. Write when it was weighed."))
    wait = timedelta(milliseconds=int(sent) - int(taken))
    if wait < -CLOCK_PUT_RIGHT:
        raise InputError(
            _("The phone's clock was set back since it was weighed. Write when it was weighed.")
        )
    if wait > LONGEST_WAIT:
        raise InputError(
            _("It waited on the phone for {days:.0f} days. Write when it was weighed.").format(
                days=wait / timedelta(days=1)
            )
        )
    return max(timedelta(), wait)


def _is_ms(sent: str) -> bool:
    return sent.isascii() and sent.isdecimal() and len(sent) <= LONGEST_MS


def read_key(sent: str) -> str:
    """Return the number that a form bears; InputError where it has none."""
    if not sent or len(sent) > LONGEST_KEY or not sent.isalnum():
        raise InputError(_("This form has lost its number. Load the page again; your entry stays."))
    return sent
