"""The page as a Flask app: what it is given, what it refuses, what every answer carries."""

import secrets
from datetime import timedelta
from pathlib import Path

from flask import Flask, request
from flask.sessions import SecureCookieSessionInterface
from flask_wtf.csrf import CSRFProtect

from hangroom.errors import StoreError
from hangroom.ports import Clock
from hangroom.settings import Settings
from hangroom_web.access import access
from hangroom_web.answers import register_answers
from hangroom_web.api.acts import api_acts
from hangroom_web.api.health import health
from hangroom_web.api.history import history_api
from hangroom_web.api.now import api
from hangroom_web.assets import register_assets
from hangroom_web.bearer import register_bearer
from hangroom_web.draw.light import light_mark
from hangroom_web.first_run import FirstRun, print_code
from hangroom_web.forecasts.wording import HOLDS
from hangroom_web.guard import register_guard
from hangroom_web.pages.alarms import alarm_pages
from hangroom_web.pages.backup import backup_pages
from hangroom_web.pages.batches import batch_pages
from hangroom_web.pages.calendar import THROTTLE as CALENDAR_THROTTLE
from hangroom_web.pages.calendar import calendar_pages, calendar_throttle
from hangroom_web.pages.controls import control_pages
from hangroom_web.pages.errors import register_errors
from hangroom_web.pages.history import history_pages
from hangroom_web.pages.inspect import inspect_pages
from hangroom_web.pages.login import login_pages
from hangroom_web.pages.looks import look_pages
from hangroom_web.pages.notices import notice_pages
from hangroom_web.pages.people import people_pages
from hangroom_web.pages.plans import plan_pages
from hangroom_web.pages.proving import proving_pages
from hangroom_web.pages.reminders import reminder_pages
from hangroom_web.pages.restore import restore_pages
from hangroom_web.pages.room import room_pages
from hangroom_web.pages.sample import only_look, sample_pages
from hangroom_web.pages.setup import setup_pages
from hangroom_web.sample_house import EXTENSION as SAMPLE_HOUSE
from hangroom_web.sample_house import SampleHouse
from hangroom_web.server import BODY_BYTES
from hangroom_web.site import EXTENSION, Site, close_records
from hangroom_web.throttle import Throttle
from hangroom_web.whole import WholeNumber
from hangroom_web.words import _, sentence

LOGGED_IN_FOR = timedelta(days=30)


def create_app(
    settings: Settings,
    *,
    clock: Clock,
    boot_id: str,
    shows: SampleHouse | None = None,
    settings_file: Path | None = None,
) -> Flask:
    """Return the page for these settings; needs no database, board or daemon to be there yet.

    `shows`: the sample house that this one shows, where it is not the real one. `settings_file`:
    where the settings were read from, for a backup of them.
    """
    app = Flask(__name__)
    app.extensions[EXTENSION] = Site(
        settings=settings, clock=clock, boot_id=boot_id, settings_file=settings_file
    )
    app.extensions["throttle"] = Throttle(free_tries=5)
    app.extensions["first_run"] = FirstRun(print_code)
    app.extensions[CALENDAR_THROTTLE] = calendar_throttle()
    app.config.update(
        SECRET_KEY=_session_key(settings),
        SESSION_COOKIE_NAME="hangroom" if shows is None else "hangroom-sample",
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        PERMANENT_SESSION_LIFETIME=LOGGED_IN_FOR,
        # Pages ask every few seconds: an answer on its way while somebody logs in or out would
        # bring the cookie of before back.
        SESSION_REFRESH_EACH_REQUEST=False,
        # A form waits for hours in a pocket: its token lives as long as the session.
        WTF_CSRF_TIME_LIMIT=None,
        # By `register_bearer`: every request but those that act by an API token and by no cookie.
        WTF_CSRF_CHECK_DEFAULT=False,
        MAX_CONTENT_LENGTH=BODY_BYTES,
        MAX_FORM_MEMORY_SIZE=BODY_BYTES,
        MAX_FORM_PARTS=400,
    )
    app.session_interface = _SessionInterface()
    app.url_map.converters["int"] = WholeNumber
    app.jinja_options = {"trim_blocks": True, "lstrip_blocks": True}
    app.jinja_env.globals["_"] = _
    app.jinja_env.globals["light_mark"] = light_mark
    app.jinja_env.globals["forecast_holds"] = HOLDS
    app.jinja_env.filters["sentence"] = sentence
    # Order matters: who may speak at all is settled before any token is looked at.
    register_guard(app)
    if shows is not None:
        only_look(app)
    register_bearer(app, CSRFProtect(app))
    register_assets(app)
    register_answers(app)
    register_errors(app)
    for pages in (
        *(room_pages, control_pages, inspect_pages, look_pages, batch_pages, alarm_pages),
        *(
            plan_pages,
            setup_pages,
            notice_pages,
            proving_pages,
            sample_pages,
            calendar_pages,
            people_pages,
            login_pages,
            api,
            api_acts,
            health,
        ),
        *(history_pages, history_api, backup_pages, restore_pages, reminder_pages),
    ):
        app.register_blueprint(pages)
    app.teardown_appcontext(close_records)
    if shows is None:
        shows = SampleHouse(settings, clock, boot_id, make_app=_sample_app)
        app.wsgi_app = shows.mounted(app.wsgi_app)  # type: ignore[assignment]  # WSGI all the same
    app.extensions[SAMPLE_HOUSE] = shows
    return app


def _sample_app(house: SampleHouse, settings: Settings, clock: Clock, boot_id: str) -> Flask:
    return create_app(settings, clock=clock, boot_id=boot_id, shows=house)


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
