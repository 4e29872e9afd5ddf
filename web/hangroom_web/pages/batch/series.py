"""Whole series of temperatures inside a stick: pasted, or from a logger's file."""

from collections.abc import Sequence
from datetime import date, datetime

from flask import Blueprint, render_template, request, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.checks import AHEAD_AT_MOST
from hangroom.store.record.series import (
    Origin,
    Series,
    SeriesKind,
    TemperaturePoint,
    add_series,
    series_of,
)
from hangroom_web.batch.series_form import read_pasted
from hangroom_web.batch.series_view import KIND_NAMES, series_view
from hangroom_web.dates import day_of, say_day, say_moment
from hangroom_web.forms import Form, Question
from hangroom_web.pages.batch.common import (
    batch_or_404,
    fresh_form,
    group_choices,
    sent_form,
    stored,
)
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

series_pages = Blueprint("series", __name__)

# A logger's thousands would make a page that no phone likes.
SHOWN_POINTS, MOST_POINTS = 6, 500


@series_pages.get("/batches/<int:number>/temperatures")
def temperatures(number: int) -> str:
    """Show every series of a batch, with the form for pasted lines and files."""
    with records() as db:
        return _page(db, batch_or_404(db, number), fresh_form())


@series_pages.post("/batches/<int:number>/temperatures")
@acting
def add_many(number: int) -> Response | tuple[str, int]:
    """Store a series from pasted lines or a file."""
    form = sent_form()
    kind = form.kind("series", SeriesKind, needed=True)
    with records() as db:
        found = batch_or_404(db, number)
        group = form.one_of("group", [group.letter for group in found.groups])
        probe = form.line("probe", needed=_("Say where the probe sat."))
        origin = _take_file(form)
        points = _points(form, found)
        if kind is None or not form.sound:
            return _page(db, found, form), 422 if form.faults else 200
        series = Series(
            key=form.key,
            entered_at=form.now,
            entered_by=who(),
            kind=kind,
            probe=probe,
            origin=origin,
            group=group,
            points=tuple(points),
        )
        add_series(db, number, series)
    said = _("{count} readings are stored.").format(count=len(points))
    return stored(said, url_for("batches.series.temperatures", number=number))


def _take_file(form: Form) -> Origin:
    """Put a chosen file's text where lines are pasted, so that it is not lost on a fault."""
    file = request.files.get("file")
    data = file.read() if file else b""
    if not data:
        return Origin.PASTED
    try:
        form.typed["lines"] = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        form.refuse(_("The file is no text. Save it as CSV and choose it again."), "file")
    return Origin.CSV


def _points(form: Form, found: Batch) -> Sequence[TemperaturePoint]:
    text, day = form.raw("lines"), _day(form)
    if not text:
        form.refuse(_("Paste lines such as 09:40 61.2, or choose a file."), "lines")
    if form.faults:
        return ()
    try:
        points = read_pasted(text, day=day, units=form.units, zone=form.zone)
    except InputError as fault:
        form.refuse(str(fault), "lines")
        return ()
    if points[-1].at > form.now + AHEAD_AT_MOST:
        last = say_moment(points[-1].at, form.zone, now=form.now)
        form.refuse(
            _("The last reading, {last}, is still to come. Check the day.").format(last=last),
            "lines",
        )
    if day_of(points[0].at, form.zone) < day_of(found.started_at, form.zone):
        form.ask("day", _before_the_batch(points[0].at, found, form))
    return points


def _day(form: Form) -> date:
    """Return the day of the first line that bears none; today where none is typed."""
    typed = form.raw("day")
    try:
        return date.fromisoformat(typed) if typed else day_of(form.now, form.zone)
    except ValueError:
        form.refuse(_("Write the day as 2026-11-26."), "day")
        return day_of(form.now, form.zone)


def _before_the_batch(first_at: datetime, found: Batch, form: Form) -> Question:
    return Question(
        said=_("The first reading is of {first}, the batch was started {started}.").format(
            first=say_day(first_at, form.zone), started=say_day(found.started_at, form.zone)
        )
    )


def _page(db: Database, found: Batch, form: Form) -> str:
    here = site()
    kept = series_of(db, batch_id_of(db, found.number))
    return render_template(
        "temperatures.html",
        batch=found,
        form=form,
        series=[
            series_view(one, units=here.units, zone=here.zone, now=here.now())
            for one in reversed(kept)
        ],
        shown_points=SHOWN_POINTS,
        most_points=MOST_POINTS,
        kinds=[(kind, name) for kind, name in KIND_NAMES.items()],
        groups=group_choices(found),
        today=f"{day_of(here.now(), here.zone)}",
    )
