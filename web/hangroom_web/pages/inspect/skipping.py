"""Not weighing a stick, with the reason, as a look; and taking back what was entered just now."""

from flask import Blueprint, request
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batches import hanging_batches
from hangroom.store.record.edits import Kept, strike_out
from hangroom.store.record.entries import add_entry
from hangroom.store.record.looks import Look
from hangroom.store.record.skips import SkipReason, skip_key
from hangroom_web.entries import read_key, waited
from hangroom_web.pages.inspect.cards import SKIP_WORDS, card_of, stick_or_404
from hangroom_web.pages.inspect.undo import undoable
from hangroom_web.pages.inspect.weighing import card_again, card_with_undo, find, go_on
from hangroom_web.pages.login import acting, who
from hangroom_web.pages.room import current_look
from hangroom_web.site import records, site
from hangroom_web.words import _

skip_pages = Blueprint("skipping", __name__)


@skip_pages.post("/inspect/<tag>/skip")
@acting
def skip(tag: str) -> Response | str | tuple[str, int]:
    """Note that a stick was not weighed, and why, as a look at its group."""
    form, now = request.form, site().now()
    with records() as db:
        found, told = find(db, tag)
        try:
            reason, sent = _reason(form.get("reason", "")), read_key(form.get("key", ""))
            taken_at = now - waited(form)
        except InputError as fault:
            card = card_of(found, told, typed={}, faults={"skip": str(fault)})
            return card_again(card, 422)
        seen = Look(
            key=skip_key(tag, reason, sent=sent),
            entered_at=now,
            entered_by=who(),
            group=found.hung.group.letter,
            taken_at=taken_at,
            note=_("{tag} was not weighed: {why}.").format(tag=tag, why=SKIP_WORDS[reason]),
        )
        add_entry(db, found.hung.batch.number, seen)
        look = current_look(db, hanging_batches(db))
        return go_on(card_with_undo(db, stick_or_404(look, tag), told, stored=sent), look)


@skip_pages.post("/inspect/<tag>/undo")
@acting
def undo(tag: str) -> Response | str | tuple[str, int]:
    """Strike out the entry that the card shows, where it was entered within ten minutes."""
    form, now = request.form, site().now()
    with records() as db:
        found, told = find(db, tag)
        of = form.get("of", "")
        if not of or undoable(db, found, of, now=now) != of:
            raise InputError(
                _(
                    "That entry can no longer be undone here: it is older than ten minutes, or was "
                    "undone. Its batch's page has Correct something."
                )
            )
        kept = Kept.LOOK if found.skipped is not None else Kept.WEIGH_IN
        why = _("undone within ten minutes")
        strike_out(db, kept, of, key=read_key(form.get("key", "")), by=who(), now=now, why=why)
        look = current_look(db, hanging_batches(db))
        return go_on(card_with_undo(db, stick_or_404(look, tag), told), look)


def _reason(chosen: str) -> SkipReason:
    if chosen not in set(SkipReason):
        raise InputError(_("Choose why it is not weighed: fell, cut open or pulled."))
    return SkipReason(chosen)
