"""Backup: how the last one went, one to take away now, and how one is put back."""

import shutil

from flask import Blueprint, render_template, send_file
from werkzeug.wrappers import Response

from hangroom import __version__
from hangroom.errors import StoreError
from hangroom.store.backup.copying import PRIVATE_FOLDER, make_backup
from hangroom.store.backup.outcome import read_outcome
from hangroom.store.backup.pending import PENDING
from hangroom.store.in_use import alone
from hangroom_web.backup import BackupView, backup_view
from hangroom_web.pages.login import setting
from hangroom_web.site import site
from hangroom_web.words import _

backup_pages = Blueprint("backup", __name__)

# In the store's folder, for the page's user may write nowhere else; empty but for the moment.
MADE_IN = ".download"
# Between two steps of copying; a controller on the same small Pi gets its turn.
REST_S = 0.01


def backup_now() -> BackupView:
    """Return how the last backup went."""
    here = site()
    return backup_view(
        read_outcome(here.settings.store.folder),
        here.settings.backup.folder,
        now=here.now(),
        zone=here.zone,
        waits=(here.settings.store.folder / PENDING).is_file(),
    )


@backup_pages.get("/setup/backup")
def backup() -> str:
    """Show how it stands, and what there is to do."""
    return _page()


@backup_pages.post("/setup/backup")
@setting
def download() -> Response | tuple[str, int]:
    """Make a backup and hand it over; nothing of it stays here."""
    here = site()
    folder, clock = here.settings.store.folder, here.clock
    made_in = folder / MADE_IN
    try:
        with alone(folder, doing=_("another cannot begin"), users=("backup",)):
            shutil.rmtree(made_in, ignore_errors=True)
            made_in.mkdir(PRIVATE_FOLDER)
            made = make_backup(
                folder,
                made_in,
                made_at=here.now().astimezone(here.zone),
                site=here.settings.site.name,
                program=__version__,
                settings=_settings_file(),
                rest=lambda: clock.wait_until(clock.uptime_s() + REST_S),
            )
            # Open it stays readable; its name is gone before it is sent.
            file = made.file.open("rb")
            shutil.rmtree(made_in, ignore_errors=True)
    except OSError as fault:
        return _page(
            _("It cannot be made in {folder}: {why}.").format(folder=folder, why=fault.strerror)
        ), 503
    except StoreError as fault:
        return _page(str(fault)), 503
    answer = send_file(
        file, mimetype="application/zip", as_attachment=True, download_name=made.file.name
    )
    answer.content_length = made.size
    answer.headers["Cache-Control"] = "no-store"
    return answer


def _settings_file() -> bytes | None:
    file = site().settings_file
    try:
        return None if file is None else file.read_bytes()
    except OSError:
        return None  # the records are worth keeping without


def _page(fault: str = "") -> str:
    here = site()
    return render_template(
        "backup.html",
        backup=backup_now(),
        fault=fault,
        settings_file=here.settings_file or "/etc/hangroom/hangroom.toml",
    )
