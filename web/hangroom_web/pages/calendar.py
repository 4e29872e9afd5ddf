"""The calendar: its feed under a secret address, its file, and the addresses made and revoked."""

import math
import secrets
from hashlib import sha256
from typing import cast

from flask import (
    Blueprint,
    Response,
    abort,
    current_app,
    redirect,
    render_template,
    request,
    url_for,
)
from sqlite_utils import Database
from werkzeug.wrappers import Response as AnyResponse

from hangroom import __version__
from hangroom.errors import InputError
from hangroom.store.batches import hanging_batches
from hangroom.store.calendar_addresses import (
    LONGEST_LABEL,
    CalendarAddress,
    addresses,
    admits,
    new_address,
    revoke_address,
)
from hangroom.store.calendar_events import calendar_domain, keep_events, published_events
from hangroom_web.calendar_feed.entries import Rail, entries
from hangroom_web.calendar_feed.ics import as_ics
from hangroom_web.calendar_feed.publishing import published, unchanged
from hangroom_web.dates import say_day
from hangroom_web.forecasts.reading import foretold_of
from hangroom_web.pages.login import acting, logged_in, setting, who
from hangroom_web.rail import hanging
from hangroom_web.site import records, site
from hangroom_web.throttle import Throttle
from hangroom_web.words import _

calendar_pages = Blueprint("calendar", __name__)

THROTTLE = "calendar-throttle"


def calendar_throttle() -> Throttle:
    """Return what slows down whoever guesses.

    Each address is counted by itself alone: a phone whose address was revoked goes on asking, and
    must not keep the others waiting. All together may try what they like at 32 random bytes.
    """
    return Throttle(free_tries=20, free_tries_of_all=1_000_000)


@calendar_pages.get("/calendar/<secret>.ics")
def feed(secret: str) -> Response:
    """Give the calendar to whoever has the address; nobody is told why another one is none."""
    throttle = cast("Throttle", current_app.extensions[THROTTLE])
    asker, clock = request.remote_addr or "", site().clock
    wait_s = throttle.try_after_s(asker, uptime_s=clock.uptime_s())
    if wait_s > 0:
        abort(429, f"{math.ceil(wait_s)}")
    with records() as db:
        if not admits(db, secret, now=site().now()):
            abort(404)
        throttle.succeeded(asker)
        return _answer(db)


@calendar_pages.get("/calendar.ics")
@acting
def download() -> Response:
    """Give the calendar as a file, for phones that subscribe to nothing."""
    with records() as db:
        answer = _answer(db)
    answer.headers["Content-Disposition"] = "attachment; filename=hangroom.ics"
    return answer


@calendar_pages.get("/setup/calendar")
def calendar() -> str:
    """Show what the calendar is, and to those who may act its addresses."""
    return _page(told=_("Revoked. Whoever still asks there is told nothing.") if _revoked() else "")


@calendar_pages.post("/setup/calendar")
@setting
def make() -> str | tuple[str, int]:
    """Make an address and show it, this once."""
    label = request.form.get("label", "")
    with records() as db:
        try:
            secret = new_address(
                db,
                key=request.form.get("key") or secrets.token_hex(16),
                label=label,
                by=who(),
                now=site().now(),
            )
        except InputError as refused:
            return _page(fault=str(refused), label=label), 422
    if secret is None:
        return _page(
            told=_("That address was made, and shown once. If it is lost, revoke it; make another.")
        )
    return _page(made=url_for("calendar.feed", secret=secret, _external=True))


@calendar_pages.post("/setup/calendar/<int:number>/revoke")
@acting
def revoke(number: int) -> AnyResponse:
    """Let an address count no more."""
    with records() as db:
        if not revoke_address(db, number, by=who(), now=site().now()):
            abort(404)
    return redirect(url_for("calendar.calendar", revoked=1), 303)


def _page(*, told: str = "", fault: str = "", label: str = "", made: str = "") -> str:
    known: list[tuple[CalendarAddress, str]] = []
    if logged_in():
        with records() as db:
            known = [(address, _say(address)) for address in addresses(db)]
    return render_template(
        "calendar.html",
        told=told,
        fault=fault,
        label=label,
        made=made,
        made_webcal=made and "webcal" + made[made.index(":") :],
        addresses=known,
        longest_label=LONGEST_LABEL,
        key=secrets.token_hex(16),
    )


def _say(address: CalendarAddress) -> str:
    zone = site().zone
    used = (
        _("never read yet")
        if address.used_at is None
        else _("last read {day}").format(day=say_day(address.used_at, zone))
    )
    return _("made {day} by {by}, {used}").format(
        day=say_day(address.made_at, zone), by=address.made_by, used=used
    )


def _revoked() -> bool:
    return request.args.get("revoked") is not None


def _answer(db: Database) -> Response:
    """Return the calendar of this moment; what moved since the last time is stored as moved."""
    here, now = site(), site().now()
    rail = hanging(hanging_batches(db))
    before = published_events(db)
    if any(one.group.hung_at is not None and one.group.hung_at > now for one in rail):
        # This clock cannot be right: without one, a Pi starts in 1970. Nothing is moved by it.
        told = unchanged(before, now=now)
    else:
        wanted = entries(
            Rail(
                hanging=rail,
                foretold=foretold_of(db, (one.group for one in rail), here),
                rooms={name: room.title for name, room in here.settings.room.items()},
            ),
            look_times=here.settings.inspection.times(),
            zone=here.zone,
            now=now,
        )
        told = published(before, wanted, now=now)
        if told.changed:
            keep_events(db, told.changed)
    body = as_ics(
        told.events,
        name=here.settings.site.name,
        domain=calendar_domain(db),
        page=request.host_url,
        version=__version__,
    )
    answer = Response(body, mimetype="text/calendar")
    answer.set_etag(sha256(body).hexdigest()[:20])
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.make_conditional(request)
    return answer
