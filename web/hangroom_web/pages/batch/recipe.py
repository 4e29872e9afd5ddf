"""What went in, and its curing sums: worked out, frozen, checked by a second person."""

from flask import Blueprint, abort, render_template, request, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.product.curing import Dose
from hangroom.product.recipe import Erythorbate
from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.record.entries import add_entry, entries_of
from hangroom.store.record.recipe import LineKind, RecipeLine, add_recipe_lines
from hangroom.store.record.sums import FrozenSums, check_sums
from hangroom_web.batch.doubts import typed_g
from hangroom_web.batch.recipe_form import (
    MORE_MEATS,
    MOST_MEATS,
    OWN,
    PLAIN,
    USDA_CHOICES,
    Typist,
    is_stored,
    meats_in,
    read_lines,
    work_out_dose,
)
from hangroom_web.batch.sums_view import still_so, sum_view, worked
from hangroom_web.dates import say_moment
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import batch_or_404, fresh_form, sent_form, stored
from hangroom_web.pages.login import LONGEST_NAME, acting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

recipe_pages = Blueprint("recipe", __name__)

ERYTHORBATES = [(kind, kind) for kind in Erythorbate]


@recipe_pages.get("/batches/<int:number>/recipe")
def recipe(number: int) -> str:
    """Show a batch's recipe and its curing sums, with the form for what is not there yet."""
    with records() as db:
        return _page(db, batch_or_404(db, number), fresh_form())


@recipe_pages.post("/batches/<int:number>/recipe")
@acting
def add_lines(number: int) -> Response | str | tuple[str, int]:
    """Store a recipe's lines and freeze their sums, or give the form back."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        typist = Typist(by=who(), stored=_stored(db, number))
        if "more" in request.form:
            form.typed["meats"] = str(min(meats_in(form) + MORE_MEATS, MOST_MEATS))
            return _page(db, found, form)
        if _working():
            dose = work_out_dose(form, typist)
            return _page(db, found, form, dose=dose), 422 if form.faults else 200
        if not is_stored(form, typist):
            lines = read_lines(form, typist, green_weight_g=found.green_weight_g)
            if lines is None:
                return _page(db, found, form), 422 if form.faults else 200
            add_recipe_lines(db, number, lines)
        _freeze(db, number, key=f"{form.key}sums")
    return stored(_("The recipe is stored."), _here(number))


@recipe_pages.post("/batches/<int:number>/recipe/freeze")
@acting
def freeze(number: int) -> Response:
    """Freeze the sums of the recipe as it stands now."""
    form = sent_form()
    with records() as db:
        batch_or_404(db, number)
        if not _freeze(db, number, key=form.key):
            raise InputError(_("There are no sums to freeze: no meat, or no curing salt yet."))
    return stored(_("The sums are frozen with the batch."), _here(number))


@recipe_pages.post("/batches/<int:number>/recipe/check/<key>")
@acting
def check(number: int, key: str) -> Response | tuple[str, int]:
    """Note that a second person worked the frozen sums again."""
    form = sent_form()
    name = form.line(
        "name", needed=_("Write the name of who checked the sums."), longest=LONGEST_NAME
    )
    with records() as db:
        found = batch_or_404(db, number)
        if key not in {frozen.key for frozen in _frozen(db, number)}:
            abort(404)
        if not form.has("agree"):
            form.refuse(_("Tick that the sums were worked again and agree."), "agree")
        if form.sound:
            try:
                check_sums(db, key, by=name, now=form.now)
            except InputError as fault:
                form.refuse(str(fault), "name")
        if not form.sound:
            return _page(db, found, form), 422
    return stored(_("Checked by {name}.").format(name=name), _here(number))


def _working() -> bool:
    """Whether the grams are to be worked out: asked for, or a question about that was answered."""
    sent = request.form
    return "work" in sent or ("working" in sent and ("use" in sent or "keep" in sent))


def _freeze(db: Database, number: int, *, key: str) -> bool:
    sums = worked(_stored(db, number)).sums
    if not sums:
        return False
    entry = FrozenSums(key=key, entered_at=site().now(), entered_by=who(), sums=tuple(sums))
    add_entry(db, number, entry)
    return True


def _here(number: int) -> str:
    return url_for("batches.recipe.recipe", number=number)


def _stored(db: Database, number: int) -> list[RecipeLine]:
    return entries_of(db, RecipeLine, batch_id_of(db, number))


def _frozen(db: Database, number: int) -> list[FrozenSums]:
    return entries_of(db, FrozenSums, batch_id_of(db, number))


def _page(db: Database, found: Batch, form: Form, *, dose: Dose | None = None) -> str:
    lines, frozen = _stored(db, found.number), _frozen(db, found.number)
    now = worked(lines)
    kinds = {line.kind for line in lines}
    latest = frozen[-1] if frozen else None
    return render_template(
        "recipe.html",
        batch=found,
        form=form,
        working=_working(),
        lines=[_line(line) for line in lines],
        together=_weight(sum(line.weight_g for line in lines)),
        sums=[sum_view(one) for one in now.sums],
        findings=now.findings,
        fault=now.fault,
        frozen=[_frozen_said(one) for one in frozen],
        latest=latest,
        still_so=latest is not None and still_so(latest, now.sums),
        dose=sum_view(dose) if dose else None,
        meats=meats_in(form),
        most_meats=MOST_MEATS,
        choices=[("", _("no meat chosen")), *USDA_CHOICES, (OWN, _("my own figures"))],
        plain=PLAIN,
        has_cure=LineKind.CURING_SALT in kinds,
        has_erythorbate=LineKind.ERYTHORBATE in kinds,
        erythorbates=ERYTHORBATES,
        me=who(),
    )


def _line(line: RecipeLine) -> dict[str, str]:
    label = ""
    if line.nitrite_pct is not None:
        label = _("{nitrite:g} % nitrite").format(nitrite=line.nitrite_pct)
        if line.nitrate_pct is not None:
            label += _(", {nitrate:g} % nitrate").format(nitrate=line.nitrate_pct)
    if line.erythorbate is not None:
        label = line.erythorbate
    return {
        "key": line.key,
        "name": line.name,
        "label": label,
        "weight": _weight(line.weight_g) if line.weight_g else _("none"),
    }


def _weight(weight_g: float) -> str:
    units = site().units
    return f"{typed_g(round(weight_g, 2), units)} {units.weight}"


def _frozen_said(one: FrozenSums) -> dict[str, str]:
    here = site()
    now = here.now()
    said = _("Worked by {name}, {moment}.").format(
        name=one.entered_by, moment=say_moment(one.entered_at, here.zone, now=now)
    )
    checked = ""
    if one.checked_by is not None and one.checked_at is not None:
        checked = _("Checked by {name}, {moment}.").format(
            name=one.checked_by, moment=say_moment(one.checked_at, here.zone, now=now)
        )
    results = ", ".join(f"{view.what} {view.result}" for view in map(sum_view, one.sums))
    return {"key": one.key, "said": said, "checked": checked, "results": results}
