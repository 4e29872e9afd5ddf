"""Steps on the way from stuffing to the rail: begun and ended with one tap, or entered later."""

from datetime import datetime

from flask import Blueprint, abort, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.record.edits import Kept, correct
from hangroom.store.record.entries import add_entry, entries_of
from hangroom.store.record.steps import Step
from hangroom.store.requests import Kind
from hangroom.terms import Stage
from hangroom_web.batch.step_form import STEP_NAMES, Place, can_end, read_step
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import batch_or_404, fresh_form, sent_form, stored
from hangroom_web.pages.batch.steps_page import steps_page
from hangroom_web.pages.login import acting, setting, who
from hangroom_web.site import records, site
from hangroom_web.wanted import stage_body
from hangroom_web.wishes import wish
from hangroom_web.words import _

step_pages = Blueprint("steps", __name__)

HOUR_S = 3600.0


@step_pages.get("/batches/<int:number>/steps")
def steps(number: int) -> str:
    """Show what is going on, what comes next, and what was done."""
    with records() as db:
        return steps_page(db, batch_or_404(db, number), fresh_form())


@step_pages.post("/batches/<int:number>/steps/start")
@acting
def start(number: int) -> Response | tuple[str, int]:
    """Begin a step; where one is named in `ends`, that one ends at the same moment."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        step = read_step(form, _place(found), by=who())
        before = _lasting(db, number, form.raw("ends"))
        if step is None or (before and not can_end(before, step.from_at, form, "from")):
            return _again(db, found, form)
        if before is not None:
            _end(db, before, step.from_at, key=f"{form.key}end", now=form.now)
        add_entry(db, number, step)
    said = _("{step} is under way.") if step.to_at is None else _("{step} is stored.")
    return stored(said.format(step=_named(step)), _here(number))


@step_pages.post("/batches/<int:number>/steps/end/<key>")
@acting
def end(number: int, key: str) -> Response | tuple[str, int]:
    """End a step, now or when it was."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        step = _lasting(db, number, key)
        if step is None:
            return stored(_("That step has ended already."), _here(number))
        at = form.moment("ended-at")
        if not can_end(step, at, form, "ended-at"):
            return _again(db, found, form)
        _end(db, step, at, key=form.key, now=form.now)
    return stored(_("{step} has ended.").format(step=_named(step)), _here(number))


@step_pages.post("/batches/<int:number>/steps/room/<room>")
@setting
def dry_casings(number: int, room: str) -> Response:
    """Ask for a room's stage to be casing dry, for this batch and as long as the settings say."""
    table = site().settings.room.get(room)
    if table is None:
        abort(404)
    with records() as db:
        batch_or_404(db, number)
    planned = table.stages()[Stage.CASING_DRY]
    body = stage_body(
        {
            "stage": Stage.CASING_DRY,
            "hours": f"{(planned.for_s or HOUR_S) / HOUR_S:g}",
            "then": planned.then or Stage.HANG,
            "batch": str(number),
        }
    )
    asked = wish(Kind.STAGE, room, body, asked_by=who())
    return stored(
        _("The controller was asked."),
        url_for("batches.steps.steps", number=number, asked=asked, _anchor="rooms"),
    )


def _again(db: Database, found: Batch, form: Form) -> tuple[str, int]:
    return steps_page(db, found, form), 422 if form.faults else 200


def _lasting(db: Database, number: int, key: str) -> Step | None:
    return next((s for s in _steps(db, number) if s.key == key and s.to_at is None), None)


def _end(db: Database, step: Step, at: datetime, *, key: str, now: datetime) -> None:
    correct(
        db, Kept.STEP, step.key, {"to_at": at}, key=key, by=who(), now=now, why=_("it has ended")
    )


def _steps(db: Database, number: int) -> list[Step]:
    return entries_of(db, Step, batch_id_of(db, number))


def _place(found: Batch) -> Place:
    return Place(rooms=list(site().settings.room), letters=[group.letter for group in found.groups])


def _named(step: Step) -> str:
    return STEP_NAMES[step.kind].capitalize()


def _here(number: int) -> str:
    return url_for("batches.steps.steps", number=number)
