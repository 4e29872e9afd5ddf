"""People and access: the household passphrase, and the tokens by which other programs act."""

import secrets

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from hangroom.errors import InputError
from hangroom.store.api_tokens import (
    LONGEST_NAME,
    ApiToken,
    Scope,
    new_token,
    revoke_token,
    tokens,
)
from hangroom_web.access import SHORTEST_PASSPHRASE, access, set_passphrase
from hangroom_web.dates import say_day
from hangroom_web.pages.login import acting, fault_of, keep_session, setting, who
from hangroom_web.site import records, site
from hangroom_web.words import _

people_pages = Blueprint("people", __name__)

SCOPE_WORDS = {
    Scope.READ: (_("Read"), _("what the rooms are like, and the history")),
    Scope.WRITE: (_("Write"), _("weights into the record, as a scale does")),
    Scope.CONTROL: (_("Control"), _("ask for setpoints, within the room's limits")),
}


@people_pages.get("/setup/access")
@acting
def people() -> str:
    """Show who may do what, and the tokens that hold."""
    said = {
        "passphrase": _("The passphrase is another one now. Everybody else has to log in anew.")
    }
    said["revoked"] = _("Revoked. It is refused from now on.")
    return _page(told=said.get(request.args.get("done", ""), ""))


@people_pages.post("/setup/access/passphrase")
@setting
def change_passphrase() -> Response | tuple[str, int]:
    """Set another passphrase; this browser stays logged in."""
    passphrase = request.form.get("new-passphrase", "")
    fault = fault_of(passphrase, request.form.get("passphrase-once-more", ""))
    if fault:
        return _page(faults={"passphrase": fault}), 422
    folder = site().settings.store.folder
    set_passphrase(folder, passphrase)
    keep_session(access(folder))
    return redirect(url_for("people.people", done="passphrase"), 303)


@people_pages.post("/setup/access/tokens")
@setting
def make_token() -> str | tuple[str, int]:
    """Make a token and show it, this once."""
    form = request.form
    name = " ".join(form.get("name", "").split())
    chosen = frozenset(scope for scope in Scope if form.get(f"scope-{scope}"))
    try:
        if not name:
            raise InputError(_("Name it after what will use it, for example: kitchen scale."))  # noqa: TRY301
        with records() as db:
            made = new_token(
                db,
                key=form.get("key") or secrets.token_hex(16),
                name=name,
                scopes=chosen,
                by=who(),
                now=site().now(),
            )
    except InputError as fault:
        return _page(faults={"token": str(fault)}), 422
    if made is None:
        return _page(
            told=_("That token was made, and shown once. If it is lost, revoke it; make another.")
        )
    return _page(made=made, made_name=name)


@people_pages.post("/setup/access/tokens/<int:number>/revoke")
@setting
def revoke(number: int) -> Response:
    """Let a token hold no more."""
    with records() as db:
        if not revoke_token(db, number, by=who(), now=site().now()):
            abort(404)
    return redirect(url_for("people.people", done="revoked"), 303)


def _page(
    *, told: str = "", faults: dict[str, str] | None = None, made: str = "", made_name: str = ""
) -> str:
    with records() as db:
        known = [(token, _say(token)) for token in tokens(db)]
    return render_template(
        "people.html",
        told=told,
        faults=faults or {},
        made=made,
        made_name=made_name,
        tokens=known,
        scopes=SCOPE_WORDS,
        typed=request.form,
        longest_name=LONGEST_NAME,
        shortest=SHORTEST_PASSPHRASE,
        looking_open=site().settings.web.looking == "open",
        key=secrets.token_hex(16),
    )


def _say(token: ApiToken) -> str:
    zone = site().zone
    used = (
        _("never used yet")
        if token.used_at is None
        else _("last used {day}").format(day=say_day(token.used_at, zone))
    )
    return _("{may}; made {day} by {by}, {used}").format(
        may=", ".join(
            str(SCOPE_WORDS[scope][0]).lower() for scope in Scope if scope in token.scopes
        ),
        day=say_day(token.made_at, zone),
        by=token.made_by,
        used=used,
    )
