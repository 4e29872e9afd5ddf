"""Looking at a group between weighings: what is found on it, how it feels, without a scale."""

from flask import Blueprint, render_template, url_for
from werkzeug.wrappers import Response

from hangroom.store.batches import Batch, hanging_batches
from hangroom.store.record.entries import add_entry
from hangroom_web.batch.measuring_form import read_look
from hangroom_web.forms import Form
from hangroom_web.pages.batch.common import (
    batch_or_404,
    fresh_form,
    group_or_404,
    room_choices,
    sent_form,
    stored,
)
from hangroom_web.pages.login import acting, who
from hangroom_web.rail import hanging
from hangroom_web.site import records
from hangroom_web.words import _

look_pages = Blueprint("looks", __name__)


@look_pages.get("/inspect/looks")
def looks() -> str:
    """Show every group that hangs, with a form for what is seen of it."""
    with records() as db:
        return _page(hanging_batches(db), {})


@look_pages.post("/inspect/looks/<int:number>/<letter>")
@acting
def look(number: int, letter: str) -> Response | tuple[str, int]:
    """Store a look at a group."""
    form = sent_form()
    with records() as db:
        group_or_404(batch_or_404(db, number), letter)
        seen = read_look(form, letter, by=who())
        if seen is None:
            return _page(hanging_batches(db), {(number, letter): form}), 422
        add_entry(db, number, seen)
    said = _("The look at batch {number}, group {letter} is stored.")
    return stored(said.format(number=number, letter=letter), url_for("looks.looks"))


def _page(kept: list[Batch], sent: dict[tuple[int, str], Form]) -> str:
    rooms = dict(room_choices())
    groups = [
        {
            "title": hung.title,
            "where": rooms.get(hung.group.room or "", ""),
            "number": hung.batch.number,
            "letter": hung.group.letter,
            "form": sent.get((hung.batch.number, hung.group.letter)) or fresh_form(),
        }
        for hung in hanging(kept)
    ]
    return render_template("looks.html", groups=groups)
