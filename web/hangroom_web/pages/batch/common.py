"""What every page that enters something into a batch's record does the same way."""

from flask import abort, flash, redirect, request
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.store.batches import Batch, Group, batch
from hangroom_web.forms import Form
from hangroom_web.site import site
from hangroom_web.words import _


def sent_form() -> Form:
    """Return the form that this request brings."""
    return _form(request.form.to_dict())


def fresh_form(typed: dict[str, str] | None = None) -> Form:
    """Return a form that nobody has sent yet."""
    return _form(typed or {})


def _form(typed: dict[str, str]) -> Form:
    here = site()
    return Form(typed, units=here.units, zone=here.zone, now=here.now())


def batch_or_404(db: Database, number: int) -> Batch:
    """Return a batch with all that belongs to it."""
    found = batch(db, number)
    if found is None:
        abort(404)
    return found


def group_or_404(found: Batch, letter: str) -> Group:
    """Return one of a batch's groups."""
    group = next((group for group in found.groups if group.letter == letter), None)
    if group is None:
        abort(404)
    return group


def group_choices(found: Batch) -> list[tuple[str, str]]:
    """Return the choices of a field that asks for a group, the whole batch first."""
    groups = [(g.letter, _("group {letter}").format(letter=g.letter)) for g in found.groups]
    return [("", _("the whole batch")), *groups]


def room_choices() -> list[tuple[str, str]]:
    """Return the rooms that there are, with their titles."""
    return [(name, room.title) for name, room in site().settings.room.items()]


def stored(said: str, back_to: str) -> Response:
    """Go on to a page, which says what was stored."""
    flash(said)
    return redirect(back_to, 303)
