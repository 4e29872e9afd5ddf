"""A batch's record on paper, its files, and its photos."""

import json
import zipfile
from io import BytesIO
from pathlib import Path

from flask import Blueprint, Response, abort, render_template, request, send_file

from hangroom import __version__
from hangroom.store.record.archive import exported, fingerprint, spreadsheets
from hangroom.store.record.photos import Media, photo_file
from hangroom.store.record.whole import batch_record
from hangroom_web.assets import A_YEAR_S
from hangroom_web.batch.small_photos import small_photo
from hangroom_web.batch_view.judged import judged
from hangroom_web.batch_view.paper import PAPERS, page_rules, paper_asked
from hangroom_web.batch_view.rooms import room_views
from hangroom_web.batch_view.sources import (
    air_in,
    air_of,
    alarms_in,
    corrected_rows,
    likes_of,
    wording_of,
)
from hangroom_web.batch_view.whole import batch_view
from hangroom_web.forecasts.reading import foretold_of
from hangroom_web.pages.batch.common import batch_or_404
from hangroom_web.site import records, site
from hangroom_web.words import _

record_pages = Blueprint("record", __name__)

# What each kind is served as, whatever this machine's tables say.
MIME_TYPES = {Media.JPEG: "image/jpeg", Media.PNG: "image/png", Media.WEBP: "image/webp"}


@record_pages.get("/batches/<int:number>/record")
def record(number: int) -> str:
    """Show a batch's whole record as it is printed."""
    here = site()
    wording = wording_of(here, printed=True)
    with records() as db:
        found = batch_record(db, number)
        if found is None:
            abort(404)
        return render_template(
            "record.html",
            batch=found.batch,
            record=found,
            view=batch_view(
                found,
                judged(found, air=air_of(db), now=here.now()),
                corrected=corrected_rows(db, found.edits),
                likes=likes_of(db, found),
                foretold=foretold_of(db, found.batch.groups, here),
                wording=wording,
            ),
            rooms=room_views(found.stays, air=air_in(db), alarms=alarms_in(db), wording=wording),
            fingerprint=fingerprint(exported(db, now=here.now(), batch=number)),
            printed=wording.moment(here.now()),
            version=__version__,
            paper=paper_asked(request.args),
            papers=PAPERS,
        )


@record_pages.get("/batches/<int:number>/record/page.css")
def page_css(number: int) -> Response:
    """Return the paper's size, and what stands in the margins of every sheet."""
    here = site()
    with records() as db:
        found = batch_or_404(db, number)
        mark = fingerprint(exported(db, now=here.now(), batch=number))
    css = page_rules(
        paper_asked(request.args),
        top_left=here.settings.site.name,
        top_right=_("Record of batch {number}, {name}").format(
            number=found.number, name=found.name
        ),
        bottom_left=_("hangroom {version}, printed {when}, data {mark}").format(
            version=__version__,
            when=wording_of(here, printed=True).moment(here.now()),
            mark=mark[:16],
        ),
    )
    return Response(css, mimetype="text/css")


@record_pages.get("/batches/<int:number>/record.json")
def as_json(number: int) -> Response:
    """Return all that is kept of one batch as one object, which `hangroom import` takes."""
    with records() as db:
        batch_or_404(db, number)
        document = exported(db, now=site().now(), batch=number)
    document["sha256"] = fingerprint(document)
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1)
    return send_file(
        BytesIO(text.encode()),
        mimetype="application/json",
        as_attachment=True,
        download_name=f"batch-{number}.json",
    )


@record_pages.get("/batches/<int:number>/record.zip")
def as_tables(number: int) -> Response:
    """Return all that is kept of one batch as one CSV file per table, zipped."""
    with records() as db:
        batch_or_404(db, number)
        files = spreadsheets(db, batch=number)
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as out:
        for name, text in files.items():
            # With the mark at its start a spreadsheet program knows the text for UTF-8.
            out.writestr(name, text.encode("utf-8-sig"))
    packed.seek(0)
    return send_file(
        packed,
        mimetype="application/zip",
        as_attachment=True,
        download_name=f"batch-{number}.zip",
    )


@record_pages.get("/batches/<int:number>/photos/<name>")
def photo(number: int, name: str) -> Response:
    """Return a photo that the batch's record knows."""
    return _sent(_known_photo(number, name))


@record_pages.get("/batches/<int:number>/photos/<name>/small")
def photo_small(number: int, name: str) -> Response:
    """Return the same in a small size, for lists."""
    return _sent(small_photo(site().settings.store.folder, _known_photo(number, name).name))


def _known_photo(number: int, name: str) -> Path:
    """Return the file of a photo of a batch: of the records' names, never of one from outside."""
    with records() as db:
        found = batch_record(db, number)
    known = {one.file_name for one in found.photos} if found is not None else set()
    file = next(
        (photo_file(site().settings.store.folder, one) for one in known if one == name), None
    )
    if file is None or not file.is_file():
        abort(404)
    return file


def _sent(file: Path) -> Response:
    # A file bears the checksum of what is in it as its name, so it never changes.
    answer = send_file(file, mimetype=MIME_TYPES[Media(file.suffix[1:])], max_age=A_YEAR_S)
    answer.cache_control.public = False
    answer.cache_control.private = True
    return answer
