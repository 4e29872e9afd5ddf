"""What an entry's fields hold, as they would be typed, and what was typed anew. Pure."""

from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import datetime
from typing import Any

from hangroom.store.record.edits import Kept
from hangroom.units import length_shown, temperature_shown
from hangroom_web.batch.correctable import FIELDS, Field, Sort
from hangroom_web.batch.doubts import typed_g
from hangroom_web.forms import LONGEST_NOTE, Form, as_typed
from hangroom_web.surface import NOTHING, form_surface
from hangroom_web.words import _

ANY = (0.0, 1_000_000.0)


def fields_of(kept: Kept, entry: Any) -> Sequence[Field]:  # noqa: ANN401 - any entry of the record
    """Return the fields of an entry that can be corrected; of a recipe's line those it has."""
    fields = FIELDS[kept]
    if kept is not Kept.RECIPE_LINE:
        return fields
    has = {field.name for field in fields if getattr(entry, field.name) is not None}
    if "nitrite_pct" in has:
        has.add("nitrate_pct")
    return [field for field in fields if field.name in has]


def held(field: Field, entry: Any, form: Form) -> dict[str, str]:  # noqa: ANN401 - any entry
    """Return what an entry's field holds, as it would be typed, by the names of a form."""
    value = getattr(entry, field.name)
    if field.sort is Sort.SURFACE:
        found = value or ({NOTHING} if value is not None else ())
        return {f"surface-{one}": "1" for one in found}
    return {field.name: "" if value is None else _TYPED.get(field.sort, _plain)(value, form)}


def _plain(value: object, _form: Form) -> str:
    return str(value)


def _short(figure: float) -> str:
    return f"{figure:.3f}".rstrip("0").rstrip(".")


_TYPED: Mapping[Sort, Callable[[Any, Form], str]] = {
    Sort.WEIGHT: lambda value, form: typed_g(value, form.units),
    Sort.LENGTH: lambda value, form: _short(length_shown(value, form.units)),
    Sort.TEMPERATURE: lambda value, form: _short(temperature_shown(value, form.units)),
    Sort.NUMBER: lambda value, _form: f"{value:.6g}",
    Sort.MOMENT: lambda value, form: as_typed(value, form.zone),
}


def read_changes(
    form: Form,
    fields: Sequence[Field],
    entry: Any,  # noqa: ANN401 - any entry of the record
    *,
    rooms: Collection[str],
) -> dict[str, object]:
    """Return what was typed anew, by the entry's fields; what stands as it was shown is left.

    So a weight shown rounded is not changed by being sent back.
    """
    changes: dict[str, object] = {}
    for field in fields:
        if field.sort is Sort.SURFACE:
            found = form_surface(form)
            if found != getattr(entry, field.name):
                changes[field.name] = found
        elif _one_line(form.raw(field.name)) != _one_line(held(field, entry, form)[field.name]):
            read = _READ.get(field.sort)
            if read is not None:
                changes[field.name] = read(form, field)
            elif field.sort is Sort.ROOM:
                changes[field.name] = form.one_of(field.name, rooms, needed=field.needed)
    return changes


def _one_line(text: str) -> str:
    # A field of one line cannot send the lines of a note back.
    return " ".join(text.split())


def _text(form: Form, field: Field) -> str:
    words = _("This cannot be empty.") if field.needed else ""
    return form.line(field.name, needed=words, longest=LONGEST_NOTE)


def _moment(form: Form, field: Field) -> datetime | None:
    at = form.moment_or_none(field.name)
    if at is None and field.needed:
        form.refuse(_("Write date and time."), field.name)
    return at


def _choice(form: Form, field: Field) -> object:
    chosen = form.one_of(field.name, list(field.choices or ()), needed=field.needed)
    return next((one for one in field.choices or () if one == chosen), None)


def _number(form: Form, field: Field) -> float | None:
    return form.number(field.name, field.label, ANY, needed=field.needed)


def _whole(form: Form, field: Field) -> int | None:
    return form.whole(field.name, field.label, (0, int(ANY[1])), needed=field.needed)


_READ: Mapping[Sort, Callable[[Form, Field], object]] = {
    Sort.TEXT: _text,
    Sort.MOMENT: _moment,
    Sort.CHOICE: _choice,
    Sort.NUMBER: _number,
    Sort.WHOLE: _whole,
    Sort.WEIGHT: lambda form, field: form.weight_g(field.name, needed=field.needed, zero=True),
    Sort.LENGTH: lambda form, field: form.length_mm(field.name, needed=field.needed),
    Sort.TEMPERATURE: lambda form, field: form.temperature_c(field.name, needed=field.needed),
}
