"""Photos of a batch: taken in, without the place they were taken at, and shown small."""

from datetime import datetime

from flask import Blueprint, render_template, request, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.batches import Batch, batch_id_of
from hangroom.store.record.entries import entries_of
from hangroom.store.record.photos import Photo, add_photo
from hangroom_web.batch.photo import drawn_anew
from hangroom_web.batch.small_photos import one_photo
from hangroom_web.dates import say_moment
from hangroom_web.forms import LONGEST_KEY, Form
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

photo_pages = Blueprint("photos", __name__)

LONGEST_CAPTION = 200


@photo_pages.get("/batches/<int:number>/photos")
def photos(number: int) -> str:
    """Show a batch's photos, with the form for another."""
    with records() as db:
        return _page(db, batch_or_404(db, number), fresh_form())


@photo_pages.post("/batches/<int:number>/photos")
@acting
def add(number: int) -> Response | tuple[str, int]:
    """Take a photo in."""
    form = sent_form()
    with records() as db:
        found = batch_or_404(db, number)
        caption = form.line("caption", longest=LONGEST_CAPTION)
        group = form.one_of("group", [group.letter for group in found.groups])
        taken_at = form.moment("taken")
        file = request.files.get("photo")
        if not file:
            form.refuse(_("Choose a photo."), "photo")
        if file and form.sound:
            try:
                take_in(
                    db,
                    number,
                    file.read(),
                    key=form.key,
                    taken_at=taken_at,
                    caption=caption,
                    group=group,
                    of_key=form.raw("of")[:LONGEST_KEY] or None,
                )
            except InputError as fault:
                form.refuse(str(fault), "photo")
        if not form.sound:
            return _page(db, found, form), 422
    return stored(_("The photo is stored."), url_for("batches.photos.photos", number=number))


def take_in(
    db: Database,
    number: int,
    data: bytes,
    *,
    key: str,
    taken_at: datetime,
    caption: str,
    group: str | None,
    of_key: str | None,
) -> None:
    """Keep a photo of a batch, one at a time; InputError where it is none that is kept."""
    with one_photo:
        add_photo(
            db,
            site().settings.store.folder,
            number,
            drawn_anew(data),
            key=key,
            taken_at=taken_at,
            by=who(),
            now=site().now(),
            caption=caption,
            group=group,
            of_key=of_key,
        )


def _shown(db: Database, number: int) -> list[dict[str, str]]:
    here = site()
    return [
        {
            "src": url_for("batches.record.photo", number=number, name=photo.file_name),
            "small": url_for("batches.record.photo_small", number=number, name=photo.file_name),
            "caption": photo.caption,
            "when": say_moment(photo.taken_at, here.zone, now=here.now()),
            "of": _("group {letter}").format(letter=photo.group) if photo.group else "",
        }
        for photo in reversed(entries_of(db, Photo, batch_id_of(db, number)))
    ]


def _page(db: Database, found: Batch, form: Form) -> str:
    return render_template(
        "photos.html",
        batch=found,
        form=form,
        photos=_shown(db, found.number),
        groups=group_choices(found),
        of=request.values.get("of", "")[:LONGEST_KEY],
        group=request.args.get("group", ""),
    )
