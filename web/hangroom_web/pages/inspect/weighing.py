"""Inspect: today's sticks, all in one load, and taking in what was weighed."""

from dataclasses import replace
from datetime import datetime
from hashlib import sha256

from flask import Blueprint, Response, jsonify, redirect, render_template, request, url_for
from flask_wtf.csrf import generate_csrf
from sqlite_utils import Database
from werkzeug.wrappers import Response as AnyResponse

from hangroom.errors import InputError
from hangroom.store.batches import hanging_batches
from hangroom.store.record.edits import Kept, correct
from hangroom.store.weigh_ins import NewWeighIn, add_weigh_in, stored_as, stored_weight_g
from hangroom_web.entries import SQUEEZES, WRINKLES_MM, Faults, read_entry
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.forecasts.reading import foretold_of
from hangroom_web.look import DueStick, Look, say_next
from hangroom_web.pages.batch.photos import take_in
from hangroom_web.pages.inspect.cards import SKIP_WORDS, Card, card_of, slip_of, stick_or_404
from hangroom_web.pages.inspect.said import script_words, summary_of
from hangroom_web.pages.inspect.undo import undoable
from hangroom_web.pages.login import acting, logged_in, who
from hangroom_web.pages.room import current_look
from hangroom_web.site import records, site
from hangroom_web.surface import SURFACE_CHOICES
from hangroom_web.words import _

inspect_pages = Blueprint("inspect", __name__)

WRINKLE_WORDS = {0.0: "0", 0.5: "½", 1.0: "1", 2.0: "2", 3.0: "3+"}
# What a later sending of one form may change of the entry that the first one stored.
RETYPED = ("weight_g", "squeeze", "wrinkle_mm", "diameter_mm", "note", "surface", "taken_at")


@inspect_pages.get("/inspect")
def inspect() -> str:
    """Show a card for every stick that is due or was weighed today; with `all`, for every stick."""
    return page()


@inspect_pages.get("/inspect/token")
def token_now() -> Response:
    """Tell a queue on a phone the token for what it sends, and whether it may send at all."""
    answer = jsonify(token=generate_csrf(), logged_in=logged_in())
    answer.headers["Cache-Control"] = "no-store"
    return answer


@inspect_pages.post("/inspect/<tag>")
@acting
def weigh(tag: str) -> AnyResponse | str | tuple[str, int]:
    """Store one stick's entry, or give the card back with a question or with what is wrong."""
    with records() as db:
        found, told = find(db, tag)
        typed = request.form.to_dict()
        # An answer counts only for the weight that was asked about, not for one typed since.
        answered = typed.get("asked") == typed.get("weight")
        if answered and "use" in typed:
            typed["weight"] = typed["use"]
        entry = read_entry(
            typed,
            tag=tag,
            now=site().now(),
            begun_at=found.hung.batch.started_at,
            zone=site().zone,
            units=site().units,
            by=who(),
        )
        if isinstance(entry, Faults):
            return card_again(card_of(found, told, typed=typed, faults=entry.by_field), 422)
        sent = entry.key
        if "again" in typed:
            entry = replace(entry, key=_standing_key(db, entry))
        known = stored_as(db, entry.key)
        if known is not None and known.tag != tag:
            lost = {"key": _("This form's number was used for another stick. Load the page again.")}
            return card_again(card_of(found, told, typed=typed, faults=lost), 422)
        if known is None:
            slip = slip_of(found, entry.weight_g, entry.taken_at)
            if slip is not None and not (answered and "keep" in typed):
                return card_again(card_of(found, told, typed=typed, slip=slip), 200)
            add_weigh_in(db, entry)
        elif "again" in typed and not known.struck:
            _retype(db, entry)
        photo_fault = _keep_photo(db, found, entry.key, entry.taken_at)
        look = current_look(db, hanging_batches(db))
        card = card_with_undo(db, stick_or_404(look, tag), told, stored=sent)
    if photo_fault:
        return card_again(replace(card, faults={"photo": photo_fault}), 200)
    return go_on(card, look)


@inspect_pages.post("/inspect/<tag>/photo")
@acting
def add_photo_of(tag: str) -> str | tuple[str, int]:
    """Store the photo that belongs to a weigh-in which is stored already; `key` says which."""
    key = request.form.get("key", "")
    with records() as db:
        found, told = find(db, tag)
        entry = next((look for look in found.stick.weigh_ins if look.key == key), None)
        if entry is None:
            raise InputError(_("The weight that this photo belongs to is not here."))
        fault = _keep_photo(db, found, key, entry.taken_at)
        card = card_with_undo(db, found, told, stored=key)
    if fault:
        raise InputError(fault)
    return render_template("_card.html", card=card)


def find(db: Database, tag: str) -> tuple[DueStick, Foretold]:
    """Return a stick that hangs with what was foretold of its group; 404 where none does."""
    found = stick_or_404(current_look(db, hanging_batches(db)), tag)
    return found, foretold_of(db, [found.hung.group], site())[found.hung.group.number]


def card_with_undo(db: Database, one: DueStick, told: Foretold, *, stored: str = "") -> Card:
    """Return a stick's card; what was entered just now can be taken back on it."""
    return card_of(one, told, stored=stored, undo=undoable(db, one, stored, now=site().now()))


def go_on(card: Card, look: Look) -> AnyResponse | str:
    """Return the card to a script; else lead to the next stick that waits."""
    if "part" in request.args:
        return render_template("_card.html", card=card)
    waiting = [s for s in _shown(look, everything="all" in request.form) if _waits(s)]
    anchor = f"stick-{waiting[0].stick.tag}" if waiting else "summary"
    everything = "1" if "all" in request.form else None
    return redirect(url_for("inspect.inspect", all=everything, _anchor=anchor), 303)


def card_again(card: Card, code: int) -> tuple[str, int]:
    """Give a card back as it was sent, with what is wrong or asked."""
    if "part" in request.args:
        return render_template("_card.html", card=card), code
    return page(again=card), code


def page(again: Card | None = None) -> str:
    """Return the whole page; `again` is a card that was sent and is given back."""
    everything = "all" in request.values
    with records() as db:
        kept = hanging_batches(db)
        look = current_look(db, kept)
        foretold = foretold_of(db, (group for batch in kept for group in batch.groups), site())
        cards = [
            again
            if again is not None and again.tag == one.stick.tag
            else card_with_undo(db, one, foretold[one.hung.group.number])
            for one in _shown(look, everything=everything)
        ]
    return render_template(
        "inspect.html",
        cards=cards,
        left=sum(not (card.saved or card.skipped) for card in cards),
        everything=everything,
        hangs=bool(look.sticks),
        next_look=say_next(look, site().zone),
        summary=summary_of(look, foretold),
        words=script_words(),
    )


@inspect_pages.app_context_processor
def _scales() -> dict[str, object]:
    return {
        "squeezes": SQUEEZES,
        "wrinkles": [(f"{mm:g}", WRINKLE_WORDS[mm]) for mm in WRINKLES_MM],
        "surfaces": SURFACE_CHOICES,
        "skip_reasons": list(SKIP_WORDS.items()),
    }


def _shown(look: Look, *, everything: bool) -> list[DueStick]:
    today = (one for one in look.sticks if one.due or one.done or one.skipped)
    return list(look.sticks) if everything else list(today)


def _waits(one: DueStick) -> bool:
    return not (one.done or one.skipped)


def _standing_key(db: Database, entry: NewWeighIn) -> str:
    """Return under which key to keep what was typed anew: of an entry undone meanwhile, a new one.

    The same weight sent once more is no new one: it was undone, and stays so.
    """
    known = stored_as(db, entry.key)
    if known is None or not known.struck or known.tag != entry.tag:
        return entry.key
    if stored_weight_g(db, entry.key) == entry.weight_g:
        return entry.key
    return sha256(f"{entry.key} typed anew".encode()).hexdigest()[:32]


def _retype(db: Database, entry: NewWeighIn) -> None:
    """Correct an entry by what was typed since it was sent; the phone knew not that it was stored.

    Its edit's key follows from what it says, so that it too is one however often it is sent.
    """
    changes = {name: getattr(entry, name) for name in RETYPED}
    said = repr([entry.key, *(changes[name] for name in RETYPED if name != "taken_at")])
    correct(
        db,
        Kept.WEIGH_IN,
        entry.key,
        changes,
        key=sha256(said.encode()).hexdigest()[:32],
        by=who(),
        now=site().now(),
        why=_("typed anew on the phone before it was sent"),
    )


def _keep_photo(db: Database, found: DueStick, key: str, taken_at: datetime) -> str:
    """Keep the photo that came with a weigh-in, and return what is wrong with it, if anything."""
    file = request.files.get("photo")
    if not file:
        return ""
    data = file.read()
    try:
        take_in(
            db,
            found.hung.batch.number,
            data,
            # Of the entry and of what is in it: the same one twice is one, another is another.
            key=f"{key}photo{sha256(data).hexdigest()[:16]}",
            taken_at=taken_at,
            caption=found.stick.tag,
            group=found.hung.group.letter,
            of_key=key,
        )
    except InputError as fault:
        return _("The weight is stored, its photo is not: {}").format(fault)
    return ""
