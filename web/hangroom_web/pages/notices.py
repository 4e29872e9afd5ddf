"""Being told, as Setup shows it, and the button that asks for a test."""

import secrets

from flask import Blueprint, redirect, request, url_for
from sqlite_utils import Database
from werkzeug.wrappers import Response

from hangroom.errors import StoreError
from hangroom.store.deliveries import carried_on, undelivered_of
from hangroom.store.notice_asks import NoticeAsk, ask_by_number, ask_for_test
from hangroom.store.notices import CHANNELS_FAULT, PINGED, channels, mark
from hangroom_web.notices import NoticesView, notices_view, say_undelivered
from hangroom_web.pages.login import acting, who
from hangroom_web.site import records, site
from hangroom_web.wishes import LONGEST_NUMBER, LOOK_EVERY_S

notice_pages = Blueprint("notices", __name__)

# Two channels answer in this time as a rule; the page says so where it takes longer.
WAIT_S = 8.0


def notices_now() -> NoticesView:
    """Return what Setup says of being told."""
    try:
        with records() as db:
            there = channels(db)
            return notices_view(
                there,
                {one.name: carried_on(db, one.name) for one in there},
                fault=str(mark(db, CHANNELS_FAULT) or ""),
                pinged=mark(db, PINGED),
                asked=_asked(db),
                site=site(),
            )
    except StoreError as fault:
        return notices_view((), {}, fault=str(fault), pinged=None, asked=None, site=site())


def undelivered_now(abouts: list[str]) -> dict[str, str]:
    """Return what of some alarms has not arrived where somebody wanted to be told, in words."""
    try:
        with records() as db:
            return {about: say_undelivered(undelivered_of(db, about)) for about in abouts}
    except StoreError:
        return {}  # the status already carries it as a trouble


@notice_pages.post("/setup/notices/test")
@acting
def ask_a_test() -> Response:
    """Ask for a test on every channel, and wait a moment for what comes of it."""
    clock = site().clock
    with records() as db:
        number = ask_for_test(
            db,
            key=request.form.get("key") or secrets.token_hex(16),
            asked_by=who(),
            now=site().now(),
        )
        given_up_s = clock.uptime_s() + WAIT_S
        while clock.uptime_s() < given_up_s and not _answer(db, number):
            clock.wait_until(clock.uptime_s() + LOOK_EVERY_S)
    return redirect(url_for("setup.setup", test=number) + "#notices", 303)


def _answer(db: Database, number: int) -> str:
    asked = ask_by_number(db, number)
    return asked.answer if asked else ""


def _asked(db: Database) -> NoticeAsk | None:
    number = request.args.get("test", "")
    if not (number.isascii() and number.isdecimal()):
        return None
    return ask_by_number(db, int(number[:LONGEST_NUMBER]))
