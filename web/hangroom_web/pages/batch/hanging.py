"""Groups on their way: added, hung with their sticks' weights, moved, pulled."""

from flask import Blueprint, request, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batches import Batch, add_group, pull_group
from hangroom.store.hanging import hang_group, move_group
from hangroom.store.record.edits import Kept, correct
from hangroom_web.batch.hanging_form import (
    Change,
    read_hang,
    read_pull,
    read_sticks,
)
from hangroom_web.batch.likeness import green_makeup, liked_groups
from hangroom_web.batch.starting import (
    MORE_ROWS,
    MOST_ROWS,
    read_groups,
    rows_in,
)
from hangroom_web.forms import OTHERWISE, Form
from hangroom_web.pages.batch.common import (
    batch_or_404,
    fresh_form,
    group_or_404,
    sent_form,
    stored,
)
from hangroom_web.pages.batch.groups_page import LETTERS, groups_page
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

hanging_pages = Blueprint("hanging", __name__)


@hanging_pages.get("/batches/<int:number>/groups")
def groups(number: int) -> str:
    """Show where each group is, with the form for what may come next."""
    with records() as db:
        return groups_page(db, batch_or_404(db, number), fresh_form())


@hanging_pages.post("/batches/<int:number>/groups/<letter>/hang")
@acting
def hang(number: int, letter: str) -> Response | tuple[str, int]:
    """Hang a group, or move it where it hangs already, with its sticks' weights as hung."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        group = group_or_404(found, letter)
        changes = read_sticks(form, group)
        place = read_hang(form, group, list(site().settings.room))
        if place is None:
            return _again(db, found, form)
        room, at = place
        act = hang_group if group.room is None else move_group
        try:
            act(db, group.number, room=room, at=at, key=form.key, by=who(), now=form.now)
        except InputError as fault:
            form.refuse(str(fault), f"{letter}-room")
            return _again(db, found, form)
        _keep(db, changes, form, why=_("as hung"))
    title = site().settings.room[room].title
    return _done(number, _("Group {letter} hangs in {room}.").format(letter=letter, room=title))


@hanging_pages.post("/batches/<int:number>/groups/<letter>/pull")
@acting
def pull(number: int, letter: str) -> Response | tuple[str, int]:
    """Pull a group."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        group = group_or_404(found, letter)
        at = read_pull(form, group)
        if at is None:
            return _again(db, found, form)
        try:
            pull_group(db, group.number, now=form.now, at=at, by=who())
        except InputError as fault:
            form.refuse(str(fault), f"{letter}-pulled")
            return _again(db, found, form)
    return _done(number, _("Group {letter} is pulled.").format(letter=letter))


@hanging_pages.post("/batches/<int:number>/groups/<letter>/sticks")
@acting
def sticks(number: int, letter: str) -> Response | tuple[str, int]:
    """Store what was weighed and measured of a group's sticks since they were stuffed."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        changes = read_sticks(form, group_or_404(found, letter))
        if not form.sound:
            return _again(db, found, form)
        _keep(db, changes, form, why=_("weighed or measured"))
    return _done(number, _("The sticks of group {letter} are stored.").format(letter=letter))


@hanging_pages.post("/batches/<int:number>/groups/<letter>/target")
@acting
def target(number: int, letter: str) -> Response:
    """Take the target that makes a group as dry as the one it shall be like."""
    form = sent_form()
    with records() as db:
        group = group_or_404(batch_or_404(db, number), letter)
        target_pct = form.number("target", _("target"), (20.0, 100.0), needed=True)
        if target_pct is None:
            raise InputError(form.faults["target"])
        changes = {"target_yield_pct": target_pct}
        why = _("as dry as the group it shall be like")
        correct(db, Kept.GROUP, group.key, changes, key=form.key, by=who(), now=form.now, why=why)
    return _done(number, _("The target of group {letter} is changed.").format(letter=letter))


@hanging_pages.post("/batches/<int:number>/groups")
@acting
def add(number: int) -> Response | str | tuple[str, int]:
    """Store one more group of a batch; it does not hang yet."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        if "more" in request.form:
            form.typed["rows"] = str(min(rows_in(form) + MORE_ROWS, MOST_ROWS))
            return groups_page(db, found, form)
        letter = form.one_of("letter", LETTERS, needed=True) or "A"
        liked = liked_groups(db, green_makeup(db, number))
        groups = read_groups(form, rooms=(), liked=liked, hung_at=None, letters=(letter,))
        if not groups and form.sound:
            form.refuse(_("Say how many sticks this group has."), f"{letter}-sticks")
        if not form.sound:
            return _again(db, found, form)
        try:
            is_new = add_group(db, number, groups[0], now=form.now, by=who())
        except InputError as fault:
            form.refuse(str(fault), OTHERWISE)
            return _again(db, found, form)
    said = _("Group {letter} is stored.") if is_new else _("There is a group {letter} already.")
    return _done(number, said.format(letter=letter))


def _keep(db: Database, changes: list[Change], form: Form, *, why: str) -> None:
    for change in changes:
        correct(
            db,
            Kept.STICK,
            change.stick.key,
            change.changes,
            key=f"{form.key}{change.stick.number}",
            by=who(),
            now=form.now,
            why=why,
        )


def _again(db: Database, found: Batch, form: Form) -> tuple[str, int]:
    return groups_page(db, found, form), 422 if form.faults else 200


def _done(number: int, said: str) -> Response:
    return stored(said, url_for("batches.hanging.groups", number=number))
