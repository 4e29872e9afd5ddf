"""A backup sent from a phone: looked at, shown, and laid ready for the next start."""

from datetime import datetime
from threading import Lock

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.datastructures import FileStorage
from werkzeug.wrappers import Response

from hangroom.errors import HangroomError, InputError, StoreError
from hangroom.store.backup.pending import ASKED, PENDING, REFUSED, forget, lay_ready
from hangroom.store.backup.placing import Present, Ready, made_ready, present
from hangroom_web.dates import say_clock, say_day
from hangroom_web.pages.login import setting
from hangroom_web.server import LARGEST_BODY_BYTES
from hangroom_web.site import site
from hangroom_web.words import _

restore_pages = Blueprint("restore", __name__)

# It is unpacked to be looked at: one at a time on a small Pi.
_one_at_a_time = Lock()


@restore_pages.get("/setup/backup/restore")
@setting
def restore() -> str:
    """Ask for the file, or say what was laid ready."""
    return _page()


@restore_pages.post("/setup/backup/restore")
@setting
def look() -> str | tuple[str, int]:
    """Look at the whole file and show what is in it beside what is here; change nothing."""
    sent = request.files.get("backup")
    if not sent:
        return _page(fault=_("Choose the backup's file.")), 422
    folder = site().settings.store.folder
    with _one_at_a_time:
        try:
            return _page(shown=_looked_at(sent))
        except HangroomError as fault:
            (folder / ASKED).unlink(missing_ok=True)
            code = 422 if isinstance(fault, InputError) else 503
            return _page(fault=_("{why} Nothing was changed.").format(why=fault)), code


@restore_pages.post("/setup/backup/restore/ready")
@setting
def ready() -> Response | tuple[str, int]:
    """Let the file that was shown wait for the next start."""
    if not lay_ready(site().settings.store.folder):
        return _page(fault=_("That file is gone. Send it once more; nothing was changed.")), 409
    return redirect(url_for("restore.restore"), 303)


@restore_pages.post("/setup/backup/restore/forget")
@setting
def forget_it() -> Response:
    """Leave everything as it is."""
    forget(site().settings.store.folder)
    return redirect(url_for("backup.backup"), 303)


def _looked_at(sent: FileStorage) -> list[tuple[str, str]]:
    here = site()
    folder = here.settings.store.folder
    try:
        sent.save(folder / ASKED)
    except OSError as fault:
        raise StoreError(
            _("The file cannot be kept in {folder}: {why}.").format(
                folder=folder, why=fault.strerror
            )
        ) from fault
    with made_ready(folder / ASKED, folder, now=here.now()) as found:
        return [
            (_("In the backup"), _say_backup(found)),
            (_("Here now"), _say(present(folder))),
        ]


def _say_backup(found: Ready) -> str:
    told = found.manifest
    return _("{site}, made {when} by hangroom {program}: {what}").format(
        site=told.site,
        when=_when(told.made_at),
        program=told.program,
        what=_say(found.holds, photos=told.photos),
    )


def _say(held: Present | None, *, photos: int | None = None) -> str:
    if held is None:
        return _("Nothing yet.")
    if held.damaged:
        return _("A database that cannot be read.")
    said = _("{batches} batches, {weigh_ins} weigh-ins, {readings} readings").format(
        batches=held.batches, weigh_ins=held.weigh_ins, readings=held.readings
    )
    if photos is not None:
        said = _("{said}, {photos} photos").format(said=said, photos=photos)
    if held.seen_at is None:
        return _("{said}.").format(said=said)
    return _("{said}; the controller's last word {when}.").format(
        said=said, when=_when(held.seen_at)
    )


def _when(at: datetime) -> str:
    zone = site().zone
    return f"{say_day(at, zone)} {at.astimezone(zone):%Y} {say_clock(at, zone)}"


def _page(*, shown: list[tuple[str, str]] | None = None, fault: str = "") -> str:
    folder = site().settings.store.folder
    return render_template(
        "restore.html",
        shown=shown,
        fault=fault,
        pending=(folder / PENDING).is_file(),
        refused=(folder / REFUSED).is_file(),
        most_mb=LARGEST_BODY_BYTES // 1_000_000,
    )
