"""What was corrected, in words: whose field, what it held before, what it holds, who and why. Pure.

An entry is named by its row as the tables have it, so that one struck out has its name as well.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from hangroom.store.record.edits import Edit, Kept
from hangroom.store.record.tables import Row
from hangroom.units import say_length, say_temperature, say_weight
from hangroom_web.batch.step_form import STEP_NAMES
from hangroom_web.batch_view.wording import Wording
from hangroom_web.words import _, sentence

KINDS = {
    Kept.BATCH: _("the batch"),
    Kept.GROUP: _("group"),
    Kept.STICK: _("stick"),
    Kept.STAY: _("stay"),
    Kept.WEIGH_IN: _("weigh-in"),
    Kept.RECIPE_LINE: _("recipe"),
    Kept.SUMS: _("curing sums"),
    Kept.STEP: _("step"),
    Kept.SERIES: _("temperatures"),
    Kept.MEASUREMENT: _("measurement"),
    Kept.LOOK: _("look"),
    Kept.PHOTO: _("photo"),
    Kept.FINISH_PROFILE: _("tasting"),
}
FIELDS = {
    "aw": _("water activity"),
    "ph": _("pH"),
    "at": _("time"),
    "weight_g": _("weight"),
    "green_weight_g": _("green weight"),
    "cooked_weight_g": _("cooked weight"),
    "hang_weight_g": _("hung weight"),
    "fat_drip_g": _("fat that dripped"),
    "diameter_mm": _("diameter"),
    "hang_diameter_mm": _("diameter as hung"),
    "casing_diameter_mm": _("casing's diameter"),
    "length_mm": _("length"),
    "wrinkle_mm": _("wrinkle depth"),
    "temperature_c": _("temperature"),
    "set_temperature_c": _("temperature as set"),
    "wet_bulb_c": _("wet bulb"),
    "humidity_pct": _("humidity"),
    "target_yield_pct": _("target yield on green weight"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """One correction in words; `changes` are (field, before, after), none where it was struck."""

    when: str
    by: str
    of: str
    changes: Sequence[tuple[str, str, str]]
    struck: str
    why: str


def corrections(
    edits: Sequence[Edit],
    rows: Mapping[str, Row],
    *,
    tags: Mapping[str, str],
    wording: Wording,
) -> list[Correction]:
    """Return a batch's corrections, the newest first.

    `rows`: each corrected entry's row by its key; `tags`: the tag of each stick by its key.
    """
    return [
        Correction(
            when=wording.moment(edit.entered_at),
            by=edit.entered_by or _("nobody named"),
            of=_named(edit, rows.get(edit.entry_key, {}), tags, wording),
            changes=[
                (
                    FIELDS.get(field, field.removesuffix("_at").replace("_", " ")),
                    _said(field, edit.old.get(field), wording),
                    _said(field, new, wording),
                )
                for field, new in edit.new.items()
                if field != "struck_at"
            ],
            struck=_struck(edit),
            why=edit.why,
        )
        for edit in reversed(edits)
    ]


def _struck(edit: Edit) -> str:
    if "struck_at" not in edit.new:
        return ""
    return _("struck out") if edit.new["struck_at"] is not None else _("taken back in")


def _named(edit: Edit, row: Row, tags: Mapping[str, str], wording: Wording) -> str:
    """Return for example 'Weigh-in of 1B1, Mon 4 Nov 18:00, 71.4 g'."""
    said = KINDS[edit.kept]
    match row:
        case {"stick": str(key)}:
            said = _("{entry} of {tag}").format(entry=said, tag=tags.get(key, key))
        case {"tag": str(tag)}:
            said = f"{said} {tag}"
        case {"letter": str(letter)}:
            said = f"{said} {letter}"
    told = [said]
    if edit.kept is Kept.STEP and row.get("kind") in STEP_NAMES:
        told = [STEP_NAMES[row["kind"]]]  # type: ignore[index]  # a kind is the word that is stored
    if edit.kept is not Kept.BATCH:
        told += [str(row[name]) for name in ("name", "probe", "caption", "room") if row.get(name)]
    told += [
        wording.moment(datetime.fromisoformat(at))
        for name in ("taken_at", "from_at", "tasted_at")
        if isinstance(at := row.get(name), str)
    ]
    if edit.kept is Kept.WEIGH_IN and "weight_g" not in edit.new:
        told.append(_said("weight_g", row.get("weight_g"), wording))
    return sentence(", ".join(told))


SAY: Mapping[str, Callable[[float, Wording], str]] = {
    "_g": lambda figure, wording: say_weight(figure, wording.units),
    "_c": lambda figure, wording: say_temperature(figure, wording.units),
    "_mm": lambda figure, wording: say_length(figure, wording.units),
    "_pct": lambda figure, _wording: f"{figure:g} %",
}


def _said(field: str, value: object, wording: Wording) -> str:
    match value:
        case None | "" | []:
            return _("nothing")
        case str() if field == "at" or field.endswith("_at"):
            return wording.moment(datetime.fromisoformat(value))
        case bool():
            return _("yes") if value else _("no")
        case int() | float():
            say = next((say for ending, say in SAY.items() if field.endswith(ending)), None)
            return f"{value:g}" if say is None else say(float(value), wording)
        case list():
            return ", ".join(map(str, value))
        case _:
            return str(value)
