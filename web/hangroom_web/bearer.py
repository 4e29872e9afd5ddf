"""Whether a request comes from another program by its token, and what that token lets it do.

RFC 6750: `Authorization: Bearer`. A token counts below /api/ alone, so that it opens no form; and a
request that carries one acts by it alone: whatever cookies come along are not looked at, and no
form's token is asked for, since no other page can make a browser add the header.
"""

from typing import cast

from flask import Flask, abort, g, request
from flask_wtf.csrf import CSRFProtect

from hangroom.store.api_tokens import ApiToken, Scope, admitted, note_use
from hangroom_web.site import records, site

IN_API = "/api/"
SCHEME = "bearer"
LOOKING = frozenset({"GET", "HEAD", "OPTIONS"})

# Which scopes admit to what. Whatever is not named here is looked at with `read`; done with none.
SCOPES = {
    "api_acts.weigh_in": frozenset({Scope.WRITE}),
    "api_acts.ask_setpoint": frozenset({Scope.CONTROL}),
    "api_acts.answer": frozenset({Scope.READ, Scope.CONTROL}),
}


def register_bearer(app: Flask, csrf: CSRFProtect) -> None:
    """Check scopes where a token is given, and every form's own token where none is."""

    def check() -> None:
        token = api_token()
        if token is None:
            csrf.protect(apply_exemptions=True)
        elif request.endpoint and not token.scopes & admitting(request.endpoint, request.method):
            abort(403, "scope")

    app.before_request(check)


def admitting(endpoint: str, method: str) -> frozenset[Scope]:
    """Return the scopes of which a token needs one."""
    usual = frozenset({Scope.READ}) if method in LOOKING else frozenset[Scope]()
    return SCOPES.get(endpoint, usual)


def bears_token() -> bool:
    """Return whether this request comes with a token, whether or not it holds."""
    return request.path.startswith(IN_API) and _scheme_and_secret()[0] == SCHEME


def api_token() -> ApiToken | None:
    """Return the token that this request comes with, None where it has none; else 401."""
    if not bears_token():
        return None
    if "api_token" not in g:
        now = site().now()
        with records() as db:
            found = admitted(db, _scheme_and_secret()[1])
            if found is None:
                abort(401, "token")
            note_use(db, found, now=now)
        g.api_token = found
    return cast("ApiToken", g.api_token)


def _scheme_and_secret() -> tuple[str, str]:
    scheme, _space, secret = request.headers.get("Authorization", "").partition(" ")
    return scheme.lower(), secret.strip()
