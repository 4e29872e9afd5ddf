"""The daily look's reminders on the page: their state beside the look, and putting them off."""

import secrets
from collections.abc import Callable

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from hangroom.errors import StoreError
from hangroom.store.reminders import latest_reminders, open_reminders
from hangroom.store.requests import Kind
from hangroom.store.summaries import newest_summary
from hangroom_web.pages.login import acting, who
from hangroom_web.reminders import (
    ReminderView,
    SummaryView,
    put_off_s,
    reminder_view,
    summary_view,
)
from hangroom_web.site import records, site
from hangroom_web.wishes import asked_for, wish

reminder_pages = Blueprint("reminders", __name__)

# Where a form stands, and the page that it goes back to.
BACK = {"inspect": "inspect.inspect", "room": "room.rooms"}


@reminder_pages.post("/reminders/later")
@acting
def later() -> Response:
    """Ask for the look to be asked for later."""
    here = site()
    for_s = put_off_s(request.form.get("for", ""), zone=here.zone, now=here.now())
    number = wish(Kind.REMINDER_SNOOZE, "", {"for_s": for_s}, asked_by=who())
    back = BACK.get(request.form.get("back", ""), BACK["room"])
    return redirect(url_for(back, put_off=number, _anchor="reminder"), 303)


@reminder_pages.app_context_processor
def _reminders() -> dict[str, Callable[[], object]]:
    """Give every template the reminders and the summary; read only where one asks for them."""
    return {
        "new_key": _new_key,
        "reminder_now": _reminder,
        "put_off_said": _said,
        "summary_now": _summary,
    }


def _new_key() -> str:
    return secrets.token_hex(16)


def _reminder() -> ReminderView:
    here = site()
    try:
        with records() as db:
            return reminder_view(
                open_reminders(db),
                latest_reminders(db),
                at_most=here.settings.inspection.snooze_at_most(),
                zone=here.zone,
                now=here.now(),
            )
    except StoreError:
        return ReminderView()  # the page says already that the records cannot be read


def _said() -> str:
    try:
        with records() as db:
            told = asked_for(db, request.args.get("put_off"))
    except StoreError:
        return ""
    return told[1] if told else ""


def _summary() -> SummaryView | None:
    here = site()
    try:
        with records() as db:
            return summary_view(newest_summary(db), zone=here.zone, now=here.now())
    except StoreError:
        return None
