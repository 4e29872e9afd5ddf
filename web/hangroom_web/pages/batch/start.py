"""Starting a batch: a name is enough to begin with; one group and its sticks to hang them now."""

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batches import add_batch
from hangroom_web.batch.likeness import liked_groups
from hangroom_web.batch.starting import (
    CASING_NAMES,
    GROUPS,
    MORE_ROWS,
    MOST_ROWS,
    read_batch,
    rows_in,
    usual,
)
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import fresh_form, sent_form, stored
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

start_pages = Blueprint("start", __name__)


@start_pages.get("/batches/new")
@acting
def new_batch() -> str:
    """Show the form for a new batch."""
    return _page(fresh_form(usual(list(site().settings.room))))


@start_pages.post("/batches/new")
@acting
def start_batch() -> Response | str | tuple[str, int]:
    """Store a new batch, or give the form back with what is wrong or asked."""
    form = sent_form()
    if "more" in request.form:
        rows = min(rows_in(form) + MORE_ROWS, MOST_ROWS)
        form.typed["rows"] = str(rows)
        return _page(form)
    later = "later" in request.form
    with records() as db:
        rooms = list(site().settings.room)
        started = read_batch(form, rooms=rooms, liked=liked_groups(db), later=later)
        if started is None:
            return _page(form), 422 if form.faults else 200
        try:
            number = add_batch(
                db,
                name=started.name,
                started_at=form.now,
                groups=started.groups,
                note=started.note,
                green_weight_g=started.green_weight_g,
                casing=started.casing,
                casing_diameter_mm=started.casing_diameter_mm,
                key=form.key,
                by=who(),
                now=form.now,
            )
        except InputError as fault:
            form.refuse(str(fault))
            return _page(form), 422
    if started.groups and not later:
        return redirect(url_for("batches.batch", number=number), 303)
    said = _("Batch {number} is started.").format(number=number)
    return stored(said, url_for("batches.batch", number=number))


def _page(form: Form) -> str:
    with records() as db:
        liked = liked_groups(db)
    return render_template(
        "new_batch.html",
        form=form,
        letters=GROUPS,
        rows=rows_in(form),
        most_rows=MOST_ROWS,
        rooms=[(name, room.title) for name, room in site().settings.room.items()],
        liked=[("", _("no group in particular")), *((key, one.said) for key, one in liked.items())],
        casings=[("", _("not said")), *((kind, name) for kind, name in CASING_NAMES.items())],
    )
