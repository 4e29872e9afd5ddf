"""The forms for hanging, moving, pulling a group, and for its sticks as cooked and hung. Pure."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from hangroom.store.batch_facts import LONGEST_STICK_MM, THICKEST_MM
from hangroom.store.batches import Group, Stick
from hangroom.units import Units, length_shown
from hangroom_web.batch.doubts import typed_g
from hangroom_web.batch.starting import ask_about_hung
from hangroom_web.dates import say_moment
from hangroom_web.forms import Form
from hangroom_web.words import _


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What is now known of a stick, by the names of its fields."""

    stick: Stick
    changes: Mapping[str, float]


def stick_fields(stick: Stick, units: Units) -> dict[str, str]:
    """Return a stick's fields and what they hold, as it would be typed; '' for what is unknown."""
    held = {
        "cooked": "" if stick.cooked_weight_g is None else typed_g(stick.cooked_weight_g, units),
        "hung": "" if stick.hang_weight_g is None else typed_g(stick.hang_weight_g, units),
        "across": _typed_mm(stick.hang_diameter_mm, units),
        "length": _typed_mm(stick.length_mm, units),
    }
    return {_name(stick, what): value for what, value in held.items()}


def read_sticks(form: Form, group: Group) -> list[Change]:
    """Return what was typed anew about a group's tagged sticks; what stands as it was is left."""
    return [change for stick in group.tagged if (change := _read_stick(form, stick)).changes]


def _read_stick(form: Form, stick: Stick) -> Change:
    before = stick_fields(stick, form.units)
    changes: dict[str, float] = {}

    def take(what: str, field: str, value: float | None) -> None:
        if value is not None and form.raw(_name(stick, what)) != before[_name(stick, what)]:
            changes[field] = value

    cooked_g = form.weight_g(_name(stick, "cooked"))
    hung_g = form.weight_g(_name(stick, "hung"))
    for what, weight_g in (("cooked", cooked_g), ("hung", hung_g)):
        ask_about_hung(form, _name(stick, what), weight_g, stick.green_weight_g)
    take("cooked", "cooked_weight_g", cooked_g)
    take("hung", "hang_weight_g", hung_g)
    across_mm = form.length_mm(_name(stick, "across"), most_mm=THICKEST_MM)
    take("across", "hang_diameter_mm", across_mm)
    length_mm = form.length_mm(_name(stick, "length"), most_mm=LONGEST_STICK_MM)
    take("length", "length_mm", length_mm)
    return Change(stick=stick, changes=changes)


def read_hang(form: Form, group: Group, rooms: Collection[str]) -> tuple[str, datetime] | None:
    """Return where a group was hung or moved to and when, or None where something is wrong."""
    letter = group.letter
    room = form.one_of(f"{letter}-room", rooms, needed=True)
    at = form.moment(f"{letter}-at")
    if group.room is not None:
        _not_before(form, group.hung_at, at, f"{letter}-at", _("It hangs here since {moment}."))
    else:
        _not_before(form, group.pulled_at, at, f"{letter}-at", _("It hung until {moment}."))
    return (room, at) if room is not None and form.sound else None


def read_pull(form: Form, group: Group) -> datetime | None:
    """Return when a group was pulled, or None where something is wrong."""
    name = f"{group.letter}-pulled"
    at = form.moment(name)
    _not_before(form, group.hung_at, at, name, _("It was hung {moment}."))
    return at if form.sound else None


def _not_before(
    form: Form, earliest_at: datetime | None, at: datetime, name: str, said: str
) -> None:
    if earliest_at is not None and at < earliest_at:
        moment = say_moment(earliest_at, form.zone, now=form.now)
        form.refuse(_("{said} Write a later time.").format(said=said.format(moment=moment)), name)


def _name(stick: Stick, what: str) -> str:
    return f"stick-{stick.number}-{what}"


def _typed_mm(length_mm: float | None, units: Units) -> str:
    if length_mm is None:
        return ""
    return f"{length_shown(length_mm, units):.2f}".rstrip("0").rstrip(".")
