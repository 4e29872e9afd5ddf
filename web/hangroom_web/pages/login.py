"""Who acts: logging in, choosing the first passphrase, giving it again, and what asks for that."""

import secrets
from collections.abc import Callable
from contextlib import suppress
from functools import wraps
from typing import ParamSpec, TypeVar, cast
from urllib.parse import urlsplit

from flask import (
    Blueprint,
    Flask,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    session,
    url_for,
)
from werkzeug.datastructures import ImmutableMultiDict
from werkzeug.wrappers import Response

from hangroom.errors import InputError, StoreError
from hangroom_web.access import (
    SHORTEST_PASSPHRASE,
    Access,
    access,
    check_passphrase,
    set_first_passphrase,
)
from hangroom_web.first_run import FirstRun
from hangroom_web.guessing import Guess, checked, guessed
from hangroom_web.session import logged_in, may_look, recently_given, who
from hangroom_web.site import site
from hangroom_web.words import _

__all__ = [
    "acting",
    "fault_of",
    "keep_session",
    "logged_in",
    "login_pages",
    "may_look",
    "setting",
    "tell_first_code",
    "who",
]

login_pages = Blueprint("login", __name__)

# The record keeps names; one that fills a line is no name.
LONGEST_NAME = 40

# The field of a passphrase that is given again, beside those of the form that goes on with it.
AGAIN = "passphrase-again"

P = ParamSpec("P")
R = TypeVar("R")


def acting(page: Callable[P, R]) -> Callable[P, R]:
    """Let only those act who are logged in."""

    @wraps(page)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        if not logged_in():
            abort(403, "login")
        return page(*args, **kwargs)

    return guarded


def setting(page: Callable[P, R]) -> Callable[P, R | Response | tuple[str, int]]:
    """Let only those act who are logged in and gave the passphrase lately; else ask for it again.

    For what changes the rooms (setpoints, relays, stages, calibrations, a restore) and who may do
    what. A form that was sent is kept, and goes on where it was going once the passphrase is
    given; files cannot be kept, so the page with a form for a file should be guarded as well.
    """

    @wraps(page)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R | Response | tuple[str, int]:
        if not logged_in():
            abort(403, "login")
        if recently_given():
            return page(*args, **kwargs)
        if request.method != "POST":
            return redirect(url_for("login.again", next=request.full_path.rstrip("?")), 303)
        guess = Guess()
        if AGAIN in request.form:
            guess = guessed(request.form[AGAIN])
        if guess.held is None:
            return _ask_again(guess, request.path)
        _given(guess.held)
        sent = [(name, value) for name, value in _sent() if name != AGAIN]
        request.form = ImmutableMultiDict(sent)
        return page(*args, **kwargs)

    return guarded


@login_pages.get("/login")
def login() -> str:
    """Show the form."""
    return _form()


@login_pages.post("/login")
def log_in() -> Response | tuple[str, int]:
    """Check the passphrase."""
    guess = guessed(request.form.get("passphrase", ""))
    if guess.held is None:
        return _form(guess.fault), guess.code
    _open_session(guess.held)
    return redirect(_next(), 303)


@login_pages.post("/login/first")
def choose() -> Response | tuple[str, int]:
    """Set the first passphrase, for whoever types the code that the machine's log tells."""
    folder, form = site().settings.store.folder, request.form
    passphrase = form.get("passphrase", "")
    # The code is looked at last: a slip in the passphrase costs no try.
    fault = fault_of(passphrase, form.get("passphrase-once-more", ""))
    if fault:
        return _form(fault), 422
    first, uptime_s = _first_run(), site().clock.uptime_s()
    first.offer(uptime_s=uptime_s)
    guess = checked(
        lambda: first.admits(form.get("code", ""), uptime_s=uptime_s),
        access(folder),
        _("That is not the code, or it is over. The newest one in the log counts."),
    )
    if guess.held is None:
        return _form(guess.fault), guess.code
    was_first = set_first_passphrase(folder, passphrase)
    first.spent()
    if not was_first:
        return _form(_("A passphrase is set already. Log in with it.")), 409
    _open_session(access(folder))
    return redirect(_next(), 303)


@login_pages.get("/login/again")
@acting
def again() -> tuple[str, int]:
    """Ask for the passphrase once more, before a page that needs it fresh."""
    return _ask_again(Guess(code=200), url_for("login.give_again"), going_on=_next())


@login_pages.post("/login/again")
@setting
def give_again() -> Response:
    """Go on to that page."""
    return redirect(_next(), 303)


@login_pages.post("/logout")
def log_out() -> Response:
    """Forget this browser, but for that it was let in before."""
    known = session.get("known")
    session.clear()
    if known:
        session.permanent = True
        session["known"] = known
    return redirect(url_for("room.rooms"), 303)


def keep_session(held: Access) -> None:
    """Let this browser go on after the passphrase was changed from it."""
    session["mark"] = held.mark
    _given(held)


def _open_session(held: Access) -> None:
    known = session.get("known") or secrets.token_hex(8)
    session.clear()
    session.permanent = True
    session["known"] = known
    session["who"] = " ".join(request.form.get("who", "").split())[:LONGEST_NAME]
    keep_session(held)


def _given(_held: Access) -> None:
    session["given"] = [site().boot_id, round(site().clock.uptime_s(), 1)]


def _sent() -> list[tuple[str, str]]:
    return [(name, value) for name, values in request.form.lists() for value in values]


def _ask_again(guess: Guess, action: str, going_on: str = "") -> tuple[str, int]:
    sent = [(name, value) for name, value in _sent() if name not in {AGAIN, "csrf_token"}]
    page = render_template(
        "again.html",
        action=action,
        fields=[*sent, ("next", going_on)] if going_on else sent,
        field=AGAIN,
        fault=guess.fault,
        file_lost=any(file.filename for file in request.files.values()),
    )
    return page, guess.code


def fault_of(passphrase: str, once_more: str) -> str:
    """Return what is wrong with a passphrase that was typed twice, '' for nothing."""
    if passphrase != once_more:
        return _("The two are not the same. Nothing was changed; type them again.")
    try:
        check_passphrase(passphrase)
    except InputError as fault:
        return str(fault)
    return ""


def tell_first_code(app: Flask) -> None:
    """Tell the code that the first passphrase is chosen with, where none is set yet."""
    with app.app_context(), suppress(StoreError):
        if access(site().settings.store.folder).passphrase_hash is None:
            _first_run().offer(uptime_s=site().clock.uptime_s())


def _first_run() -> FirstRun:
    return cast("FirstRun", current_app.extensions["first_run"])


def _form(fault: str = "") -> str:
    held: Access | None
    try:
        held = access(site().settings.store.folder)
    except StoreError as unreadable:
        held, fault = None, str(unreadable)
    is_set = held is not None and held.passphrase_hash is not None
    if held is not None and not is_set:
        _first_run().offer(uptime_s=site().clock.uptime_s())
    return render_template(
        "login.html",
        is_set=is_set,
        readable=held is not None,
        fault=fault,
        next=_next(),
        logged_in=logged_in(),
        longest_name=LONGEST_NAME,
        shortest=SHORTEST_PASSPHRASE,
        who=request.form.get("who", ""),
        looking_open=site().settings.web.looking == "open",
    )


def _next() -> str:
    """Return where to go after: a path on this site, never another host."""
    wanted = request.values.get("next", "/")
    try:
        parts = urlsplit(wanted)
    except ValueError:
        return "/"
    is_path = wanted.startswith("/") and not wanted.startswith(("//", "/\\"))
    return wanted if is_path and not parts.netloc and not parts.scheme else "/"
