"""Alarms: those that need somebody first, what a person may do, what happened, what can happen."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from flask import Blueprint, Response, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from hangroom.alarm_table.log import of_room
from hangroom.alarm_table.row import AlarmId
from hangroom.alarm_table.table import TABLE
from hangroom.alarm_table.titles import TITLES
from hangroom.errors import StoreError
from hangroom.product.notice import about
from hangroom.store.alarms import Logged, events_since
from hangroom.store.requests import Kind
from hangroom.units import say_duration
from hangroom_web.alarm_history import as_csv, circumstances_in, days_of
from hangroom_web.alarm_words import RANK, URGENCY
from hangroom_web.alarms import AlarmNow, Standing, alarms_now, kinds_here, mark_of
from hangroom_web.dates import say_moment
from hangroom_web.gather import room_status
from hangroom_web.pages.login import acting, who
from hangroom_web.pages.notices import undelivered_now
from hangroom_web.pages.room import live_parts
from hangroom_web.site import live_board, records, site
from hangroom_web.wanted import (
    IN_MY_WORDS,
    LONGEST_WHY,
    SERVICE_WHYS,
    SHELF_WHYS,
    Body,
    time_s,
    times,
    why_in,
)
from hangroom_web.wishes import asked_for, wish

alarm_pages = Blueprint("alarms", __name__)

SHOWN_DAYS = 30

# What stands in the address of an act, the wish it is, and what the form says besides the alarm.
ACTS: Mapping[str, tuple[Kind, Callable[[Mapping[str, str]], Body]]] = {
    "acknowledge": (Kind.ALARM_ACKNOWLEDGE, lambda _form: {}),
    "reset": (Kind.ALARM_RESET, lambda _form: {}),
    "shelve": (Kind.ALARM_SHELVE, lambda form: {"for_s": time_s(form), "why": why_in(form)}),
    "unshelve": (Kind.ALARM_UNSHELVE, lambda _form: {}),
    "out-of-service": (Kind.ALARM_OUT_OF_SERVICE, lambda form: {"why": why_in(form)}),
    "into-service": (Kind.ALARM_INTO_SERVICE, lambda _form: {}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What became of a wish, and what happened in the last days."""

    asked: str
    logged: Sequence[Logged]
    fault: str


@alarm_pages.get("/alarms")
def alarms() -> str:
    """Show all alarms; without a daemon that reports, none as if it were of now."""
    here, board = site(), live_board()
    status, told = room_status(), _told()
    last = (
        []
        if board is None
        else alarms_now(board, site=here, circumstances=circumstances_in(told.logged))
    )
    return render_template(
        "alarms.html",
        **live_parts(status),
        told=told,
        mark_of_alarms=mark_of(status.alarms),
        undelivered=undelivered_now([about(one.scope, one.alarm) for one in last]),
        shown={standing: _standing(last, standing) for standing in Standing},
        standings=Standing,
        last_seen=say_moment(board.written_at, here.zone, now=here.now()) if board else "",
        days=days_of(told.logged, site=here),
        shown_days=SHOWN_DAYS,
        table=sorted(TABLE.values(), key=lambda row: RANK[row.priority]),
        titles=TITLES,
        urgency=URGENCY,
        kinds=kinds_here(here),
        times=times,
        say_duration=say_duration,
        shelf_whys=SHELF_WHYS,
        service_whys=SERVICE_WHYS,
        in_my_words=IN_MY_WORDS,
        longest_why=LONGEST_WHY,
    )


@alarm_pages.get("/alarms.csv")
def alarms_csv() -> Response:
    """Give what happened in the last days to a spreadsheet."""
    with records() as db:
        logged = events_since(db, _since())
    answer = Response(as_csv(logged, site=site()), mimetype="text/csv")
    answer.headers["Content-Disposition"] = "attachment; filename=alarms.csv"
    answer.headers["Cache-Control"] = "no-store"
    return answer


@alarm_pages.post("/alarms/<act>")
@acting
def do(act: str) -> AnyResponse:
    """Ask the daemon to acknowledge, reset, shelve or take out of service, or the way back."""
    if act not in ACTS:
        abort(404)
    kind, body_of = ACTS[act]
    scope, alarm = request.form.get("scope", ""), request.form.get("alarm", "")
    if "/" in alarm:
        # The list of all alarms offers scope and alarm as one choice.
        scope, _slash, alarm = alarm.partition("/")
    if alarm not in set(AlarmId):
        abort(404)
    room = next((name for name in site().settings.room if of_room(name) == scope), "")
    body = {"alarm": alarm, **({} if room else {"scope": scope}), **body_of(request.form)}
    number = wish(kind, room, body, asked_by=who())
    return redirect(url_for("alarms.alarms", asked=number), 303)


def _told() -> Told:
    try:
        with records() as db:
            told = asked_for(db, request.args.get("asked"))
            return Told(asked=told[1] if told else "", logged=events_since(db, _since()), fault="")
    except StoreError as fault:
        return Told(asked="", logged=(), fault=str(fault))


def _since() -> datetime:
    return site().now() - timedelta(days=SHOWN_DAYS)


def _standing(alarms: Sequence[AlarmNow], standing: Standing) -> list[AlarmNow]:
    return [alarm for alarm in alarms if alarm.standing is standing]
