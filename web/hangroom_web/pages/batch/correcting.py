"""Correcting what was entered, or striking it out; what it said before stays, with who and why."""

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, abort, render_template, request, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.record.edits import Edit, Kept, correct, strike_out
from hangroom.store.record.recipe import green_weight_slip
from hangroom.store.record.whole import BatchRecord, batch_record
from hangroom_web.batch.correcting import fields_of, held, read_changes
from hangroom_web.batch.doubts import factor_doubt, heavier_doubt, typed_g
from hangroom_web.batch_view.corrections import Correction, corrections
from hangroom_web.batch_view.sources import corrected_rows, wording_of
from hangroom_web.forms import Form, Question
from hangroom_web.pages.batch.common import fresh_form, room_choices, sent_form, stored
from hangroom_web.pages.batch.entries_said import (
    STANDING,
    TITLES,
    entries_by_kind,
    parts_of,
    say_entry,
)
from hangroom_web.pages.batch.why import WHY_CHOICES, read_why
from hangroom_web.pages.login import acting, who
from hangroom_web.rail import previous
from hangroom_web.site import records, site
from hangroom_web.surface import SURFACE_CHOICES
from hangroom_web.words import _

correcting_pages = Blueprint("correcting", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The entry that is to be corrected, in its batch's record."""

    record: BatchRecord
    kind: Kept
    entry: Any


@correcting_pages.get("/batches/<int:number>/correct")
def entries(number: int) -> str:
    """List every entry of a batch that can be corrected, and what was struck out."""
    wording = wording_of(site())
    with records() as db:
        record = _record(db, number)
        struck = [(edit, _in_words(db, record, [edit])[0]) for edit in _struck(record)]
    return render_template(
        "correct_list.html",
        batch=record.batch,
        form=fresh_form(),
        parts=parts_of(record, wording),
        struck=struck,
    )


@correcting_pages.get("/batches/<int:number>/correct/<kept>/<key>")
def entry(number: int, kept: str, key: str) -> str:
    """Show one entry with what was corrected in it so far, and the form to correct it."""
    with records() as db:
        chosen, form = _chosen(db, number, kept, key), fresh_form()
        for field in fields_of(chosen.kind, chosen.entry):
            form.typed.update(held(field, chosen.entry, form))
        return _page(db, chosen, form)


@correcting_pages.post("/batches/<int:number>/correct/<kept>/<key>")
@acting
def correct_entry(number: int, kept: str, key: str) -> Response | tuple[str, int]:
    """Correct an entry, or strike it out."""
    form = sent_form()
    with records() as db:
        chosen = _chosen(db, number, kept, key)
        strikes = "strike" in request.form and chosen.kind not in STANDING
        act = _strike if strikes else _correct
        try:
            said = act(db, chosen, form, why=read_why(form))
        except InputError as fault:
            form.refuse(str(fault))
            said = ""
        if not form.sound:
            return _page(db, chosen, form), 422 if form.faults else 200
    return stored(said, url_for("batches.correcting.entries", number=number))


@correcting_pages.post("/batches/<int:number>/correct/<kept>/<key>/back")
@acting
def take_back(number: int, kept: str, key: str) -> Response:
    """Take an entry in again that was struck out."""
    form = sent_form()
    with records() as db:
        struck = {(edit.kept, edit.entry_key) for edit in _struck(_record(db, number))}
        if (kept, key) not in struck:
            abort(404)
        why = _("struck out by mistake")
        changes = {"struck_at": None}
        correct(db, Kept(kept), key, changes, key=form.key, by=who(), now=form.now, why=why)
    return stored(_("It counts again."), url_for("batches.correcting.entries", number=number))


def _correct(db: Database, chosen: Chosen, form: Form, *, why: str) -> str:
    kind, found = chosen.kind, chosen.entry
    fields = fields_of(kind, found)
    changes = read_changes(form, fields, found, rooms=list(site().settings.room))
    _ask(form, chosen, changes)
    if not form.sound:
        return ""
    if not changes:
        return _("Nothing was changed.")
    correct(db, kind, found.key, changes, key=form.key, by=who(), now=form.now, why=why)
    return _("Corrected. What it said before is kept.")


def _strike(db: Database, chosen: Chosen, form: Form, *, why: str) -> str:
    if not form.sound:
        return ""
    key = chosen.entry.key
    strike_out(db, chosen.kind, key, key=form.key, by=who(), now=form.now, why=why)
    return _("Struck out. It is kept, and counts no more.")


def _ask(form: Form, chosen: Chosen, changes: dict[str, Any]) -> None:
    """Ask about a weight that looks like a slip beside what it can be compared with."""
    if chosen.kind is Kept.WEIGH_IN and changes.get("weight_g") is not None:
        _ask_about_weigh_in(form, chosen, changes["weight_g"])
    if chosen.kind is Kept.BATCH and changes.get("green_weight_g") is not None:
        slip = green_weight_slip(chosen.record.recipe, changes["green_weight_g"])
        if slip is not None and slip.meant_g is not None:
            meant = typed_g(slip.meant_g, form.units)
            said = _("The recipe's lines add to something else. Did you mean {meant}?")
            form.ask("green_weight_g", Question(said=said.format(meant=meant), instead=meant))


def _ask_about_weigh_in(form: Form, chosen: Chosen, weight_g: float) -> None:
    sticks = (stick for group in chosen.record.batch.groups for stick in group.tagged)
    stick = next(stick for stick in sticks if chosen.entry in stick.weigh_ins)
    before = previous(stick, chosen.entry)
    last_g = before[0] if before else stick.green_weight_g
    last = _("the {weight} before").format(
        weight=f"{typed_g(last_g, form.units)} {form.units.weight}"
    )
    form.ask(
        "weight_g",
        factor_doubt(weight_g, like_g=last_g, like_called=last, units=form.units)
        or heavier_doubt(weight_g, than_g=last_g, than_called=last, units=form.units),
    )


def _record(db: Database, number: int) -> BatchRecord:
    found = batch_record(db, number)
    if found is None:
        abort(404)
    return found


def _chosen(db: Database, number: int, kept: str, key: str) -> Chosen:
    record = _record(db, number)
    if kept not in set(Kept):
        abort(404)
    kind = Kept(kept)
    found = next((one for one in entries_by_kind(record)[kind] if one.key == key), None)
    if found is None:
        abort(404)
    return Chosen(record=record, kind=kind, entry=found)


def _struck(record: BatchRecord) -> list[Edit]:
    """Return for each entry that is struck out the edit that struck it."""
    newest = {e.entry_key: e for e in record.edits if "struck_at" in e.new}
    return [edit for edit in newest.values() if edit.new["struck_at"] is not None]


def _in_words(db: Database, record: BatchRecord, edits: list[Edit]) -> list[Correction]:
    tags = {stick.key: stick.tag for group in record.batch.groups for stick in group.tagged}
    rows = corrected_rows(db, edits)
    return corrections(edits, rows, tags=tags, wording=wording_of(site()))


def _page(db: Database, chosen: Chosen, form: Form) -> str:
    record, kind, found = chosen.record, chosen.kind, chosen.entry
    edits = [edit for edit in record.edits if edit.entry_key == found.key]
    return render_template(
        "correct.html",
        batch=record.batch,
        form=form,
        title=TITLES[kind],
        entry_said=say_entry(kind, found, record, wording_of(site())),
        fields=[(field, field.sort.name) for field in fields_of(kind, found)],
        rooms=[("", _("in no room here")), *room_choices()],
        surfaces=SURFACE_CHOICES,
        can_strike=kind not in STANDING,
        whys=WHY_CHOICES,
        history=_in_words(db, record, edits),
    )
