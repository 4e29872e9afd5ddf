"""What went wrong, in words: what happened, what it means, what to do. Never a traceback."""

import logging
import secrets
from http import HTTPStatus

from flask import Flask, render_template, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from hangroom.errors import InputError, StoreError
from hangroom_web.api.problem import for_a_program, problem
from hangroom_web.freshness import is_alive
from hangroom_web.site import live_board, site
from hangroom_web.words import _

log = logging.getLogger(__name__)

SENTENCES = {
    400: _("This request cannot be understood. Go back and try again."),
    401: _(
        "This needs a token: send it as Authorization: Bearer TOKEN. One is made on Setup, People "
        "and access."
    ),
    403: _("This is not allowed from here. Nothing was changed."),
    404: _("There is no such page. It may have been a batch or stick that is not here."),
    405: _("This address cannot be used like that. Go back and try again."),
    413: _("That was too large to take. Nothing was stored. Make it shorter and send it again."),
}
HOST = _(
    "This page does not answer to that name. Ask for it by its address in numbers, or add the name "
    "to hosts under [web] in the settings."
)
ORIGIN = _("This came from another page, so it was refused. Nothing was changed.")
LOGIN = _("Log in first; nothing was changed. What you typed is still on the page before: go back.")
AGAIN = _("Give the passphrase again first: open /login/again in this browser.")
API_TOKEN = _("That token does not hold. Make another on Setup, People and access.")
API_SCOPE = _("That token may not do this. Make one with the scope it needs on Setup.")
SAMPLE = _("These are sample data, to look at only. Leave them to begin with what is yours.")
# What a refusal is called where it is raised, and what is said of it.
REASONS = {"sample": SAMPLE, "again": AGAIN, "token": API_TOKEN, "scope": API_SCOPE}
CSRF = _("This page was open too long. Nothing was stored yet: go back, load it again, send again.")
TOO_MANY = _("Too many tries. Wait {seconds} s, then try again.")


def register_errors(app: Flask) -> None:
    """Give every refusal and failure of the app a plain page."""
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(CSRFError, _no_token)
    app.register_error_handler(InputError, _not_taken)
    app.register_error_handler(StoreError, _no_records)
    app.register_error_handler(Exception, _failed)


def _refused(fault: HTTPException) -> tuple[str, int, dict[str, str]]:
    code = fault.code or 500
    match code, fault.description:
        case 400, "host":
            return _bare(HOST, code)
        case 403, "origin":
            return _bare(ORIGIN, code)
        case 403, "login":
            return _page(LOGIN, code, login=True)
        case 429, seconds:
            headers = {"Retry-After": str(seconds)}
            return _page(TOO_MANY.format(seconds=seconds), code, headers=headers)
    if fault.description in REASONS:
        return _page(REASONS[fault.description], code)
    fallback = SENTENCES[400] if code < HTTPStatus.INTERNAL_SERVER_ERROR else _("This failed.")
    return _page(SENTENCES.get(code, fallback), code)


def _no_token(_fault: CSRFError) -> tuple[str, int, dict[str, str]]:
    return _page(CSRF, 400)


def _not_taken(fault: InputError) -> tuple[str, int, dict[str, str]]:
    return _page(str(fault), 400)


def _no_records(fault: StoreError) -> tuple[str, int, dict[str, str]]:
    return _page(str(fault), 503)


def _failed(fault: Exception) -> tuple[str, int, dict[str, str]]:
    code = secrets.token_hex(2).upper()
    log.error("page failed, code %s, at %s", code, request.path, exc_info=fault)
    alive = is_alive(live_board(), boot_id=site().boot_id, uptime_s=site().clock.uptime_s())
    said = (
        _("Something failed here, not in the room: control goes on. Code {code}, see the log.")
        if alive
        else _("Something failed here. Code {code}, see the log. Look at the rooms as well.")
    )
    return _page(said.format(code=code), 500)


def _page(
    said: str, code: int, *, login: bool = False, headers: dict[str, str] | None = None
) -> tuple[str, int, dict[str, str]]:
    if for_a_program():
        return problem(said, code, headers)
    return render_template("error.html", said=said, code=code, login=login), code, headers or {}


def _bare(said: str, code: int) -> tuple[str, int, dict[str, str]]:
    """Answer a stranger in plain text: no page of ours, no links."""
    return said, code, {"Content-Type": "text/plain; charset=utf-8"}
