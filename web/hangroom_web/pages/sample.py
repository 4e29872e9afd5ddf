"""Into the sample house and out of it again."""

from typing import cast

from flask import Blueprint, Flask, abort, current_app, redirect, request, url_for
from werkzeug.wrappers import Response

from hangroom_web.sample_house import EXTENSION, UNDER, SampleHouse

sample_pages = Blueprint("sample", __name__)

LOOKING = frozenset({"GET", "HEAD", "OPTIONS"})

# In the sample nobody logs in, chooses a passphrase or makes a secret address.
NOT_IN_A_SAMPLE = frozenset({"login", "people", "calendar", "notices", "backup", "restore"})


def only_look(app: Flask) -> None:
    """Let an app show the sample house, and take no form but the one that leaves it."""
    app.jinja_env.globals["sample"] = True
    app.before_request(_refuse_forms)


@sample_pages.post("/sample-data")
def begin() -> Response:
    """Make the sample house and go there."""
    _house().begin()
    return redirect(f"{request.script_root}{UNDER}/", 303)


@sample_pages.get(f"{UNDER}/")
@sample_pages.get(f"{UNDER}/<path:_page>")
def gone(_page: str = "") -> Response:
    """Lead an old address of a sample house that is no more to the rooms."""
    return redirect(url_for("room.rooms"), 303)


@sample_pages.post("/leave-sample")
def leave() -> Response:
    """Remove the sample house and go back to the real one."""
    _house().leave()
    return redirect(f"{request.script_root.removesuffix(UNDER)}/", 303)


def _refuse_forms() -> Response | None:
    if request.method not in LOOKING and request.endpoint != "sample.leave":
        abort(403, "sample")
    if (request.endpoint or "").split(".")[0] in NOT_IN_A_SAMPLE:
        return redirect(url_for("room.rooms"), 303)
    return None


def _house() -> SampleHouse:
    return cast("SampleHouse", current_app.extensions[EXTENSION])
