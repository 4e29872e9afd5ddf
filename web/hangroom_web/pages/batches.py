"""Batches: the list, and one batch with all that is known of it; its parts are pages beside."""

from flask import Blueprint, abort, render_template, request

from hangroom.store.batches import Batch, batches_in_short, hanging_batches
from hangroom.store.record.whole import batch_record
from hangroom_web.batch_view.judged import judged
from hangroom_web.batch_view.listed import Phase, line, phase
from hangroom_web.batch_view.sources import air_of, corrected_rows, likes_of, wording_of
from hangroom_web.batch_view.whole import batch_view
from hangroom_web.forecasts.reading import foretold_of, learned_of_recipe
from hangroom_web.pages.batch import ENTRY_PAGES
from hangroom_web.pages.compare import compare_pages
from hangroom_web.pages.record import record_pages
from hangroom_web.site import records, site

batch_pages = Blueprint("batches", __name__)
for part in (*ENTRY_PAGES, record_pages, compare_pages):
    batch_pages.register_blueprint(part)

# Of the finished ones the newest; the rest where it is asked for.
FINISHED_SHOWN = 25


@batch_pages.get("/batches")
def batch_list() -> str:
    """List every batch: hanging first, then those before it, then finished ones, newest first."""
    wording = wording_of(site())
    with records() as db:
        hanging = {one.number: one for one in hanging_batches(db)}
        kept = [hanging.get(one.number, one) for one in batches_in_short(db)]
        groups = [group for one in hanging.values() for group in one.groups]
        foretold = foretold_of(db, groups, site())
    by_phase: dict[Phase, list[Batch]] = {each: [] for each in Phase}
    for one in kept:
        by_phase[phase(one)].append(one)
    finished = by_phase[Phase.FINISHED]
    shown = finished if "all" in request.args else finished[:FINISHED_SHOWN]
    return render_template(
        "batches.html",
        hanging=[line(one, wording, foretold) for one in by_phase[Phase.HANGING]],
        before=[line(one, wording) for one in by_phase[Phase.BEFORE]],
        finished=[line(one, wording) for one in shown],
        more=len(finished) - len(shown),
    )


@batch_pages.get("/batches/<int:number>")
def batch(number: int) -> str:
    """Show one batch; `ratio` asks at which yield a moisture:protein ratio is reached."""
    here = site()
    with records() as db:
        record = batch_record(db, number)
        if record is None:
            abort(404)
        found = judged(record, air=air_of(db), now=here.now())
        corrected, likes = corrected_rows(db, record.edits), likes_of(db, record)
        foretold = foretold_of(db, record.batch.groups, here)
        of_recipe = learned_of_recipe(db, record.batch.name)
    asked = request.args.get("ratio", "")
    return render_template(
        "batch.html",
        batch=record.batch,
        view=batch_view(
            record,
            found,
            corrected=corrected,
            likes=likes,
            foretold=foretold,
            wording=wording_of(here),
            wanted=asked,
        ),
        learned=of_recipe,
        ratio=asked,
        hung_in={
            stay.room: here.settings.room[stay.room].title
            for stay in record.stays
            if stay.room in here.settings.room
        },
    )
