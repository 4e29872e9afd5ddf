"""Water activity and pH, measured on a stick of a group, with date and instrument."""

from flask import Blueprint, render_template, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.record.entries import add_entry, entries_of
from hangroom.store.record.looks import Measurement
from hangroom_web.batch.measuring_form import read_measurement
from hangroom_web.dates import say_moment
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import batch_or_404, fresh_form, sent_form, stored
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

measuring_pages = Blueprint("measuring", __name__)


@measuring_pages.get("/batches/<int:number>/measurements")
def measurements(number: int) -> str:
    """Show what was measured of a batch, with the form for more."""
    with records() as db:
        return _page(db, batch_or_404(db, number), fresh_form())


@measuring_pages.post("/batches/<int:number>/measurements")
@acting
def measure(number: int) -> Response | tuple[str, int]:
    """Store a measurement."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        letters = [group.letter for group in found.groups]
        measurement = read_measurement(form, letters, by=who())
        if measurement is None:
            return _page(db, found, form), 422 if form.faults else 200
        add_entry(db, number, measurement)
    return stored(
        _("The measurement is stored."), url_for("batches.measuring.measurements", number=number)
    )


def _page(db: Database, found: Batch, form: Form) -> str:
    measured = entries_of(db, Measurement, batch_id_of(db, found.number))
    choices = [
        (g.letter, _("{letter}, {finish}").format(letter=g.letter, finish=g.finish))
        for g in found.groups
    ]
    return render_template(
        "measurements.html",
        batch=found,
        form=form,
        measured=[_said(one) for one in reversed(measured)],
        groups=choices,
        instrument=measured[-1].instrument if measured else "",
    )


def _said(one: Measurement) -> dict[str, str]:
    here = site()
    figures = []
    if one.aw is not None:
        figures.append(_("aw {aw:.3f}").format(aw=one.aw))
    if one.ph is not None:
        figures.append(_("pH {ph:.2f}").format(ph=one.ph))
    when = say_moment(one.taken_at, here.zone, now=here.now())
    more = ", ".join(part for part in (one.instrument, one.note) if part)
    return {
        "key": one.key,
        "figures": ", ".join(figures),
        "title": _("Group {letter}, {when}").format(letter=one.group, when=when),
        "more": more,
    }
