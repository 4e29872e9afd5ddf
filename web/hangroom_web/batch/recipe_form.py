"""The form for a recipe: meats by name or by the keeper's own figures, then what goes in. Pure."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from hangroom.errors import InputError
from hangroom.product.curing import CuringSalt, Dose, LabelPercent, curing_salt_for
from hangroom.product.meats import USDA_MEATS
from hangroom.product.recipe import Erythorbate
from hangroom.store.record.recipe import LineKind, RecipeLine, as_recipe, green_weight_slip
from hangroom_web.batch.doubts import typed_g
from hangroom_web.forms import GRAMS, Form, Question
from hangroom_web.words import _

FIRST_MEATS, MORE_MEATS, MOST_MEATS = 2, 2, 8
OWN = "own"
SHARE_PCT = (0.0, 100.0)
LABEL_PCT = (0.0, 100.0)
WANTED_PPM = (1.0, 1000.0)
CURE, ERYTHORBATE = _("Curing salt"), _("Erythorbate or ascorbate")

# What goes in besides meat and curing salt: the field, its kind, and how its line is called.
PLAIN = (
    ("salt", LineKind.SALT, _("Salt")),
    ("water", LineKind.WATER, _("Water, ice")),
    ("sugar", LineKind.SUGAR, _("Sugar")),
    ("spice", LineKind.SPICE, _("Spice")),
    ("acidulant", LineKind.ACIDULANT, _("Acidulant, as encapsulated citric acid")),
)


USDA_CHOICES: Sequence[tuple[str, str]] = tuple(
    (ndb, meat.name) for ndb, meat in sorted(USDA_MEATS.items(), key=lambda item: item[1].name)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Typist:
    """Who types, and what stands in the record already."""

    by: str
    stored: Sequence[RecipeLine]


def meats_in(form: Form) -> int:
    """Return for how many meats the form has room."""
    rows = form.raw("meats")
    return min(int(rows), MOST_MEATS) if re.fullmatch("[0-9]{1,2}", rows) else FIRST_MEATS


def is_stored(form: Form, typist: Typist) -> bool:
    """Whether this very form was stored before: sent twice, it is one."""
    return any(line.key == f"{form.key}0" for line in typist.stored)


def read_lines(
    form: Form, typist: Typist, *, green_weight_g: float | None
) -> list[RecipeLine] | None:
    """Return the lines that a form holds, or None where something is wrong or asked.

    A weight of zero says that none went in; an empty field says nothing. `green_weight_g` is the
    batch's, where it is known.
    """
    lines = _lines(form, typist)
    if not lines and form.sound:
        form.refuse(_("Nothing was typed yet. Enter at least one weight."))
    if form.sound:
        _ask(form, [*typist.stored, *lines], green_weight_g=green_weight_g)
    if form.sound:
        _check_together(form, [*typist.stored, *lines])
    return lines if form.sound else None


class _Lines:
    """The lines of a form, added one by one, each with its place in the recipe."""

    def __init__(self, form: Form, typist: Typist) -> None:
        self._form, self._by = form, typist.by
        self._first = max((line.place for line in typist.stored), default=-1) + 1
        self.read: list[RecipeLine] = []

    def add(self, name: str, kind: LineKind, called: str, **more: object) -> None:
        """Add what the field `name` weighs; `more` is what lines of that kind need besides."""
        form, place = self._form, self._first + len(self.read)
        weight_g = form.weight_g(name, needed=True, zero=True)
        if weight_g is None or form.faults:
            return
        try:
            line = RecipeLine(
                key=f"{form.key}{len(self.read)}",
                entered_at=form.now,
                entered_by=self._by,
                place=place,
                kind=kind,
                name=called,
                weight_g=weight_g,
                **more,  # type: ignore[arg-type]  # whichever fields the kind needs
            )
        except InputError as fault:
            form.refuse(str(fault), name)
        else:
            self.read.append(line)


def _lines(form: Form, typist: Typist) -> list[RecipeLine]:
    lines = _Lines(form, typist)
    for row in range(meats_in(form)):
        _add_meat(form, f"meat-{row}", lines)
    if form.has("cure"):
        _add_cure(form, lines)
    for name, kind, called in PLAIN:
        if form.has(name):
            lines.add(name, kind, form.line(f"{name}-name") or called)
    if form.has("erythorbate"):
        kept_as = form.kind("erythorbate-kind", Erythorbate, needed=True)
        lines.add("erythorbate", LineKind.ERYTHORBATE, ERYTHORBATE, erythorbate=kept_as)
    return lines.read


def _add_meat(form: Form, name: str, lines: _Lines) -> None:
    chosen = form.one_of(name, {*USDA_MEATS, OWN})
    weight = f"{name}-weight"
    if chosen is None:
        if form.has(weight):
            form.refuse(_("Say which meat this is."), name)
    elif chosen == OWN:
        called = form.line(f"{name}-name", needed=_("Give your meat a name."))
        shares = {
            f"{part}_pct": form.number(f"{name}-{part}", _("share of it"), SHARE_PCT, needed=True)
            for part in ("water", "protein", "fat")
        }
        poultry = form.has(f"{name}-poultry")
        lines.add(weight, LineKind.MEAT, called, poultry=poultry, **shares)
    else:
        lines.add(weight, LineKind.MEAT, USDA_MEATS[chosen].name, ndb=chosen)


def _add_cure(form: Form, lines: _Lines) -> None:
    nitrite_pct, nitrate_pct = read_label(form)
    if nitrite_pct is not None and form.sound:
        lines.add(
            "cure",
            LineKind.CURING_SALT,
            form.line("cure-name") or CURE,
            nitrite_pct=nitrite_pct,
            nitrate_pct=nitrate_pct or None,
        )


def read_label(form: Form) -> tuple[float | None, float | None]:
    """Return nitrite and nitrate, %, as the curing salt's label prints them."""
    found = []
    for name, needed in (("cure-nitrite", True), ("cure-nitrate", False)):
        share_pct = form.number(name, _("label's percentage"), LABEL_PCT, needed=needed)
        if share_pct:
            _ask_fraction(form, name, share_pct)
        found.append(share_pct)
    return found[0], found[1]


def _ask_fraction(form: Form, name: str, share_pct: float) -> None:
    try:
        LabelPercent(share_pct)
    except InputError as fault:
        # 0.0625 is how a sum uses 6.25 %, and a factor of a hundred in the cure.
        meant = f"{100.0 * share_pct:g}"
        form.ask(name, Question(said=str(fault), instead=meant, may_keep=False))


def work_out_dose(form: Form, typist: Typist) -> Dose | None:
    """Return the curing salt to weigh out for the wanted nitrite on the meat typed so far."""
    wanted_ppm = form.number("wanted", _("wanted nitrite in ppm"), WANTED_PPM, needed=True)
    nitrite_pct, nitrate_pct = read_label(form)
    called = form.line("cure-name") or CURE
    meats = [line for line in _lines(form, typist) if line.kind is LineKind.MEAT]
    meats += [line for line in typist.stored if line.kind is LineKind.MEAT]
    meat_g = sum(line.weight_g for line in meats)
    if meat_g <= 0 and not form.faults:
        form.refuse(_("Weigh the meat first: the sum is on its green weight."), "meat-0-weight")
    if wanted_ppm is None or nitrite_pct is None or not form.sound:
        return None
    try:
        label = CuringSalt(
            name=called,
            nitrite=LabelPercent(nitrite_pct),
            nitrate=LabelPercent(nitrate_pct) if nitrate_pct else None,
        )
        return curing_salt_for(label, wanted_ppm, meat_g)
    except InputError as fault:
        form.refuse(str(fault), "cure-nitrite")
        return None


def _ask(form: Form, lines: Sequence[RecipeLine], *, green_weight_g: float | None) -> None:
    meat_g = sum(line.weight_g for line in lines if line.kind is LineKind.MEAT)
    rest_g = sum(line.weight_g for line in lines if line.kind is not LineKind.MEAT)
    if 0 < meat_g < rest_g:
        form.ask("meat-0-weight", _less_than_the_rest(form, meat_g))
        return
    slip = green_weight_slip(lines, green_weight_g) if green_weight_g else None
    if slip is not None:
        form.ask(
            "meat-0-weight",
            Question(
                said=_(
                    "The lines add to {lines}, the batch's green weight is {green}: one of them "
                    "looks like another unit, or a slip of the point."
                ).format(
                    lines=_said(form, sum(line.weight_g for line in lines)),
                    green=_said(form, green_weight_g or 0.0),
                )
            ),
        )


def _less_than_the_rest(form: Form, meat_g: float) -> Question:
    unit = form.typed.get("meat-0-weight-unit", "")
    return Question(
        said=_(
            "The meat, {meat}, is less than what goes into it. Is it typed in {unit} but was "
            "weighed in another unit?"
        ).format(meat=_said(form, meat_g), unit=unit if unit in GRAMS else form.units.weight)
    )


def _said(form: Form, weight_g: float) -> str:
    return f"{typed_g(weight_g, form.units)} {form.units.weight}"


def _check_together(form: Form, lines: Sequence[RecipeLine]) -> None:
    """Refuse a second curing salt or erythorbate: their sums are worked for one."""
    try:
        as_recipe(lines)
    except InputError as fault:
        form.refuse(str(fault))
