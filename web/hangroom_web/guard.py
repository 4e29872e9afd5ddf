"""Who may ask at all, and how much they may send: host, origin, log-in to look, size."""

from urllib.parse import urlsplit

from flask import Flask, abort, redirect, request, url_for
from werkzeug.exceptions import SecurityError
from werkzeug.wrappers import Response

from hangroom_web.bearer import IN_API, LOOKING, api_token
from hangroom_web.hosts import is_number
from hangroom_web.server import BODY_BYTES, LARGEST_BODY_BYTES
from hangroom_web.session import logged_in, may_look
from hangroom_web.site import site

# Where more is taken than in other forms, and only from those who may act: photos, logger's files.
LARGER_BYTES = {
    "batches.photos.add": LARGEST_BODY_BYTES,
    "inspect.weigh": LARGEST_BODY_BYTES,
    "inspect.add_photo_of": LARGEST_BODY_BYTES,
    "restore.look": LARGEST_BODY_BYTES,
    "batches.series.add_many": 8 * BODY_BYTES,
}

LOCAL_NAMES = frozenset({"localhost"})

# What is served where looking asks for a log-in: the way in, whether all is fresh, and what has a
# secret of its own in its address.
ALWAYS_OPEN = frozenset(
    {
        *("static", "bundle", "login.login", "login.log_in", "login.choose", "login.log_out"),
        *("health.healthz", "calendar.feed", "inspect.token_now"),
    }
)


def register_guard(app: Flask) -> None:
    """Check every request of the app before anything else does."""
    app.before_request(_check_host)
    app.before_request(_check_origin)
    app.before_request(_check_looking)
    app.before_request(_set_size)


def is_trusted(host: str | None, names: tuple[str, ...]) -> bool:
    """Return whether the page answers to this host name.

    Any literal address is fine: an attack by rebinding needs a name of the attacker's own.
    """
    if not host:
        return False
    if host.lower().rstrip(".") in LOCAL_NAMES | {name.lower() for name in names}:
        return True
    return is_number(host)


def _check_host() -> None:
    try:
        host = urlsplit(f"//{request.host}").hostname
    except (ValueError, SecurityError):
        abort(400)
    if not is_trusted(host, site().settings.web.hosts):
        abort(400, "host")


def _check_origin() -> None:
    """Refuse a change that another page sends.

    Browsers send Origin with every POST, and no Sec-Fetch-* to a plain http name, so that Origin
    is the one to look at. A client without it (a script) still needs the form's token.
    """
    origin = request.headers.get("Origin")
    if request.method in LOOKING or origin is None:
        return
    try:
        sent_from = urlsplit(origin)
    except ValueError:
        abort(403, "origin")
    known = {name.lower() for name in site().settings.web.hosts}
    if sent_from.netloc != request.host and (sent_from.hostname or "") not in known:
        abort(403, "origin")


def _check_looking() -> Response | None:
    """Send those who may not look to the log-in; whatever page comes to the app, this holds."""
    endpoint = request.endpoint or ""
    if endpoint in ALWAYS_OPEN or may_look() or api_token() is not None:
        return None
    if request.path.startswith(IN_API):
        abort(401)
    if request.method not in LOOKING:
        abort(403, "login")
    return redirect(url_for("login.login", next=request.full_path.rstrip("?")), 303)


def _set_size() -> None:
    """Let those who may act send photos and logger's files, before anything reads the body."""
    larger_bytes = LARGER_BYTES.get(request.endpoint or "")
    if larger_bytes is not None and request.method not in LOOKING and logged_in():
        request.max_content_length = larger_bytes
        request.max_form_memory_size = min(larger_bytes, LARGER_BYTES["batches.series.add_many"])
