"""Correcting one reading of a series, or taking it out; what it was stays with who and why."""

from datetime import datetime

from flask import Blueprint, abort, render_template, request, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.moments import from_ms
from hangroom.store.record.edits import correct_point
from hangroom.store.record.series import Series, series_of
from hangroom.units import say_temperature, temperature_shown
from hangroom_web.dates import say_moment
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import batch_or_404, fresh_form, sent_form, stored
from hangroom_web.pages.batch.why import WHY_CHOICES, read_why
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

reading_pages = Blueprint("readings", __name__)


@reading_pages.get("/batches/<int:number>/temperatures/<key>/<int:at_ms>")
def reading(number: int, key: str, at_ms: int) -> str:
    """Show one reading with the form to correct it."""
    with records() as db:
        found = batch_or_404(db, number)
        _series_found, temperature_c = _reading(db, number, key, from_ms(at_ms))
        form = fresh_form()
        form.typed["core"] = f"{temperature_shown(temperature_c, form.units):.2f}".rstrip(
            "0"
        ).rstrip(".")
        return _page(found, form, from_ms(at_ms), temperature_c)


@reading_pages.post("/batches/<int:number>/temperatures/<key>/<int:at_ms>")
@acting
def correct_reading(number: int, key: str, at_ms: int) -> Response | tuple[str, int]:
    """Correct one reading, or take it out."""
    form, at = sent_form(), from_ms(at_ms)
    with records() as db:
        found = batch_or_404(db, number)
        series, old_c = _reading(db, number, key, at)
        takes_out = "out" in request.form
        new_c = None if takes_out else form.temperature_c("core", needed=True)
        why = read_why(form)
        if form.sound:
            try:
                correct_point(
                    db, series.key, at, new_c, key=form.key, by=who(), now=form.now, why=why
                )
            except InputError as fault:
                form.refuse(str(fault), "core")
        if not form.sound:
            return _page(found, form, at, old_c), 422
    said = _("The reading is taken out.") if takes_out else _("The reading is corrected.")
    return stored(said, url_for("batches.series.temperatures", number=number))


def _reading(db: Database, number: int, key: str, at: datetime) -> tuple[Series, float]:
    found = next(
        (
            (series, point.temperature_c)
            for series in series_of(db, batch_id_of(db, number))
            for point in series.points
            if (series.key, point.at) == (key, at)
        ),
        None,
    )
    if found is None:
        abort(404)
    return found


def _page(found: Batch, form: Form, at: datetime, temperature_c: float) -> str:
    here = site()
    return render_template(
        "reading.html",
        batch=found,
        form=form,
        reading=_("{when}, {temperature}").format(
            when=say_moment(at, here.zone, now=here.now()),
            temperature=say_temperature(temperature_c, here.units),
        ),
        whys=WHY_CHOICES,
    )
