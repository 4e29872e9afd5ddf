"""The page as a Flask app: what it is given, what it refuses, what every answer carries."""

import secrets
from datetime import timedelta

from flask import Flask, request
from flask.sessions import SecureCookieSessionInterface
from flask_wtf.csrf import CSRFProtect

from hangroom.errors import StoreError
from hangroom.ports import Clock
from hangroom.settings import Settings
from hangroom_web.access import Throttle, access
from hangroom_web.answers import register_answers
from hangroom_web.api.health import health
from hangroom_web.api.now import api
from hangroom_web.assets import register_assets
from hangroom_web.draw.light import light_mark
from hangroom_web.forecasts.wording import HOLDS
from hangroom_web.guard import register_guard
from hangroom_web.pages.alarms import alarm_pages
from hangroom_web.pages.batches import batch_pages
from hangroom_web.pages.controls import control_pages
from hangroom_web.pages.errors import register_errors
from hangroom_web.pages.inspect import inspect_pages
from hangroom_web.pages.login import login_pages
from hangroom_web.pages.looks import look_pages
from hangroom_web.pages.plans import plan_pages
from hangroom_web.pages.room import room_pages
from hangroom_web.pages.setup import setup_pages
from hangroom_web.server import BODY_BYTES
from hangroom_web.site import EXTENSION, Site, close_records
from hangroom_web.words import _, sentence

LOGGED_IN_FOR = timedelta(days=30)


def create_app(settings: Settings, *, clock: Clock, boot_id: str) -> Flask:
    """Return the page for these settings; needs no database, board or daemon to be there yet."""
    app = Flask(__name__)
    app.extensions[EXTENSION] = Site(settings=settings, clock=clock, boot_id=boot_id)
    app.extensions["throttle"] = Throttle(free_tries=5)
    app.config.update(
        SECRET_KEY=_session_key(settings),
        SESSION_COOKIE_NAME="hangroom",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        PERMANENT_SESSION_LIFETIME=LOGGED_IN_FOR,
        # A form waits for hours in a pocket: its token lives as long as the session.
        WTF_CSRF_TIME_LIMIT=None,
        MAX_CONTENT_LENGTH=BODY_BYTES,
        MAX_FORM_MEMORY_SIZE=BODY_BYTES,
        MAX_FORM_PARTS=400,
    )
    app.session_interface = _SessionInterface()
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    app.jinja_env.globals["_"] = _
    app.jinja_env.globals["light_mark"] = light_mark
    app.jinja_env.globals["forecast_holds"] = HOLDS
    app.jinja_env.filters["sentence"] = sentence
    # Order matters: who may speak at all is settled before any token is looked at.
    register_guard(app)
    CSRFProtect(app)
    register_assets(app)
    register_answers(app)
    register_errors(app)
    for pages in (
        *(room_pages, control_pages, inspect_pages, look_pages, batch_pages, alarm_pages),
        *(plan_pages, setup_pages, login_pages, api, health),
    ):
        app.register_blueprint(pages)
    app.teardown_appcontext(close_records)
    return app


class _SessionInterface(SecureCookieSessionInterface):
    """Marks the cookie Secure where the request came by https, which a LAN page often does not."""

    def get_cookie_secure(self, app: Flask) -> bool:  # noqa: ARG002 - Flask's signature
        return request.is_secure


def _session_key(settings: Settings) -> str:
    try:
        return access(settings.store.folder).session_key
    except StoreError:
        # Looking goes on without the folder; log-ins then last only as long as this process.
        return secrets.token_hex(32)
