"""Logging in with the household passphrase, and the check that acting asks for."""

import math
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar, cast
from urllib.parse import urlsplit

from flask import (
    Blueprint,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    session,
    url_for,
)
from werkzeug.wrappers import Response

from hangroom.errors import StoreError
from hangroom_web.access import Access, Throttle, access
from hangroom_web.site import site
from hangroom_web.words import _

login_pages = Blueprint("login", __name__)

# The record keeps names; one that fills a line is no name.
LONGEST_NAME = 40

P = ParamSpec("P")
R = TypeVar("R")


def logged_in() -> bool:
    """Return whether this browser has given the present passphrase."""
    try:
        held = access(site().settings.store.folder)
    except StoreError:
        return False
    return held.passphrase_hash is not None and session.get("mark") == held.mark


def who() -> str:
    """Return who acts in this browser: the name given at log-in, or the page where none was."""
    return str(session.get("who") or _("the page"))


def acting(page: Callable[P, R]) -> Callable[P, R]:
    """Let only those act who are logged in."""

    @wraps(page)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        if not logged_in():
            abort(403, "login")
        return page(*args, **kwargs)

    return guarded


@login_pages.get("/login")
def login() -> str:
    """Show the form."""
    return _form()


@login_pages.post("/login")
def log_in() -> Response | tuple[str, int]:
    """Check the passphrase, slowly and not too often."""
    throttle = cast("Throttle", current_app.extensions["throttle"])
    address, uptime_s = request.remote_addr or "", site().clock.uptime_s()
    wait_s = throttle.wait_s(address, uptime_s=uptime_s)
    if wait_s > 0:
        abort(429, f"{math.ceil(wait_s)}")
    held = access(site().settings.store.folder)
    if not held.admits(request.form.get("passphrase", "")):
        throttle.failed(address, uptime_s=site().clock.uptime_s())
        return _form(_("That is not the passphrase. Nothing was changed.")), 403
    throttle.succeeded(address)
    session.clear()
    session.permanent = True
    session["mark"] = held.mark
    session["who"] = " ".join(request.form.get("who", "").split())[:LONGEST_NAME]
    return redirect(_next(), 303)


@login_pages.post("/logout")
def log_out() -> Response:
    """Forget this browser."""
    session.clear()
    return redirect(url_for("room.rooms"), 303)


def _form(fault: str = "") -> str:
    held: Access | None
    try:
        held = access(site().settings.store.folder)
    except StoreError as unreadable:
        held, fault = None, str(unreadable)
    return render_template(
        "login.html",
        is_set=held is not None and held.passphrase_hash is not None,
        fault=fault,
        next=_next(),
        logged_in=logged_in(),
        longest_name=LONGEST_NAME,
        who=request.form.get("who", ""),
    )


def _next() -> str:
    """Return where to go after: a path on this site, never another host."""
    wanted = request.values.get("next", "/")
    parts = urlsplit(wanted)
    is_path = wanted.startswith("/") and not wanted.startswith(("//", "/\\"))
    return wanted if is_path and not parts.netloc and not parts.scheme else "/"
