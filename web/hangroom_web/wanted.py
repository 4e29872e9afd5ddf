"""From what was chosen in a form to the body of a wish. Pure.

The daemon checks every wish against its limits; here only what is no wish at all is given back, as
an InputError that says what to choose.
"""

from collections.abc import Mapping

from hangroom.errors import InputError
from hangroom.store.requests import Word
from hangroom.terms import LONGEST_OVERRIDE_S, RelayKind, Stage
from hangroom.units import Units, say_duration, temperature_stored, typed_number
from hangroom_web.words import _

Body = dict[str, Word]
Choices = list[tuple[str, str]]

HOUR_S = 3600.0
LONGEST_WHY = 200

# How long a person may choose, as far as the longest allowed, s.
TIMES_S = (300.0, 900.0, 1800.0, HOUR_S, 2 * HOUR_S, 4 * HOUR_S, 8 * HOUR_S, 24 * HOUR_S)

# What is chosen where the reason is typed.
IN_MY_WORDS = "other"

HAND_WHYS = (_("trying it out"), _("airing the room"), _("cleaning"))
SHELF_WHYS = (_("I am on it"), _("waiting for a part"), _("known, and it can wait"))
SERVICE_WHYS = (_("mending it"), _("cleaning"), _("not in use"))


def times(longest_s: float) -> Choices:
    """Return the times up to the longest, as value and words, for example ('900', '15 min')."""
    return [(f"{each_s:g}", say_duration(each_s)) for each_s in TIMES_S if each_s <= longest_s]


def hand_times(relay: RelayKind) -> Choices:
    """Return for how long a relay may be switched by hand."""
    return times(LONGEST_OVERRIDE_S[relay])


def humidity_body(form: Mapping[str, str]) -> Body:
    """Return the wish for another humidity setpoint."""
    value_pct = typed_number(form.get("setpoint", ""), what=_("setpoint"))
    if not 0 < value_pct < 100:  # noqa: PLR2004 - percent
        raise InputError(_("A humidity lies between 0 and 100 %. Nothing was changed."))
    return {"value": value_pct}


def temperature_body(form: Mapping[str, str], units: Units) -> Body:
    """Return the wish for another temperature setpoint, typed in the keeper's unit."""
    return {"value": temperature_stored(form.get("setpoint", ""), units)}


def stage_body(form: Mapping[str, str]) -> Body:
    """Return the wish to begin a stage; without hours it has no end."""
    hours = form.get("hours", "").strip()
    for_s = HOUR_S * typed_number(hours, what=_("number of hours")) if hours else None
    if for_s is not None and for_s <= 0:
        raise InputError(_("A stage lasts longer than nothing. Write its hours, or none."))
    batch = form.get("batch", "")
    return {
        "stage": _one_of(form, "stage", Stage),
        "for_s": for_s,
        "then": _one_of(form, "then", Stage) if for_s is not None and form.get("then") else None,
        "batch": float(batch) if batch.isascii() and batch.isdecimal() else None,
    }


def hand_body(form: Mapping[str, str]) -> Body:
    """Return the wish to switch a relay by hand."""
    position = form.get("position", "")
    if position not in {"on", "off"}:
        raise InputError(_("Say whether it shall be on or off. Nothing was changed."))
    return {
        **relay_body(form),
        "closed": position == "on",
        "for_s": time_s(form),
        "why": why_in(form),
    }


def relay_body(form: Mapping[str, str]) -> Body:
    """Return the relay that a wish is about."""
    return {"relay": _one_of(form, "relay", RelayKind)}


def time_s(form: Mapping[str, str]) -> float:
    """Return the time that was chosen, s."""
    return typed_number(form.get("for_s", ""), what=_("time"))


def why_in(form: Mapping[str, str]) -> str:
    """Return the reason that was typed or else chosen, on one line."""
    chosen = form.get("why", "")
    said = " ".join(form.get("words", "").split()) or ("" if chosen == IN_MY_WORDS else chosen)
    if not said:
        raise InputError(_("Say why; the record keeps the reason. Nothing was changed."))
    return said[:LONGEST_WHY]


def _one_of(form: Mapping[str, str], name: str, kind: type[Stage] | type[RelayKind]) -> str:
    chosen = form.get(name, "")
    if chosen not in set(kind):
        raise InputError(_("Choose one of what is offered. Nothing was changed."))
    return chosen
