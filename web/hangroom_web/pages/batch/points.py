"""Temperatures inside a stick, noted one by one beside the smoker."""

from flask import Blueprint, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.store.batches import batch_id_of
from hangroom.store.record.series import (
    Origin,
    Series,
    SeriesKind,
    TemperaturePoint,
    add_points,
    add_series,
    series_of,
)
from hangroom_web.batch.series_form import Going, read_point
from hangroom_web.batch.series_view import is_again, newest_typed
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import batch_or_404, sent_form, stored
from hangroom_web.pages.batch.steps_page import OWN_PROBE, steps_page
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records
from hangroom_web.words import _

point_pages = Blueprint("points", __name__)


@point_pages.post("/batches/<int:number>/temperatures/point")
@acting
def add_point(number: int) -> Response | tuple[str, int]:
    """Store one reading, of now where no time is typed."""
    form = sent_form()
    kind = form.kind("series", SeriesKind, needed=True) or SeriesKind.COOK
    with records() as db:
        found = batch_or_404(db, number)
        series = newest_typed(series_of(db, batch_id_of(db, number)), kind)
        if series is not None and is_again(
            series,
            key=form.key,
            seen=form.raw("seen"),
            temperature_c=form.temperature_c("core"),
        ):
            return _done(number)
        probe = _probe(form, series)
        going = Going(points=series.points if series else (), cooling=kind is SeriesKind.CHILL)
        point = read_point(form, going)
        if point is None or not form.sound:
            return steps_page(db, found, form), 422 if form.faults else 200
        if series is not None and series.probe == probe:
            add_points(db, series.key, [point], now=form.now)
        else:
            _begin(db, number, form, point, kind=kind, probe=probe)
    return _done(number)


def _done(number: int) -> Response:
    return stored(_("The reading is stored."), url_for("batches.steps.steps", number=number))


def _begin(
    db: Database,
    number: int,
    form: Form,
    point: TemperaturePoint,
    *,
    kind: SeriesKind,
    probe: str,
) -> None:
    series = Series(
        key=form.key,
        entered_at=form.now,
        entered_by=who(),
        kind=kind,
        probe=probe,
        origin=Origin.TYPED,
        points=(point,),
    )
    add_series(db, number, series)


def _probe(form: Form, series: Series | None) -> str:
    """Return where the probe sits: as typed, as chosen, or still where it sat before."""
    own, chosen = form.line("probe-own"), form.line("probe")
    probe = own or ("" if chosen == OWN_PROBE else chosen)
    if not probe and series is not None:
        return series.probe
    if not probe:
        form.refuse(_("Say where the probe sits."), "probe")
    return probe
