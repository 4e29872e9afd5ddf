"""Room: the two-second glance, the rail, the last day."""

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from flask import Blueprint, current_app, render_template, request
from flask_wtf.csrf import generate_csrf
from markupsafe import Markup
from sqlite_utils import Database

from hangroom.errors import StoreError
from hangroom.store.batches import Batch, Stick, batches
from hangroom.store.daily_work import works_of
from hangroom.store.history import air_buckets, daemon_runs, switchings
from hangroom.store.record.skips import newest_skips
from hangroom.store.reminders import latest_reminders
from hangroom.terms import LONGEST_INSPECTION_S
from hangroom.units import say_length, say_weight
from hangroom_web.alarms import waiting
from hangroom_web.api.now import digits_c, digits_pct, if_lost, say_outside, say_set_to
from hangroom_web.day import BUCKET_S, HOURS, Day, day_of_room, say_day
from hangroom_web.draw.day import draw_day
from hangroom_web.draw.rail import RailGroup, rail
from hangroom_web.forecasts.foretold import Foretold
from hangroom_web.forecasts.reading import foretold_of, learned_of_room
from hangroom_web.forecasts.wording import ForecastView, forecast_view, say_window
from hangroom_web.freshness import is_alive
from hangroom_web.gather import banner, first_steps, room_status
from hangroom_web.look import Look, look_at, say_due, say_next
from hangroom_web.pages.login import logged_in, may_look
from hangroom_web.rail import Drawn, HangingGroup, drawn, hanging
from hangroom_web.rooms import RoomNow
from hangroom_web.site import live_board, records, site
from hangroom_web.status import Status
from hangroom_web.words import _

room_pages = Blueprint("room", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class HangingView:
    """A group that hangs here: its title, its batch's number, what was foretold of it."""

    title: str
    batch: int
    forecast: ForecastView


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """What hangs on the wall below a room's air: its rail and its day, with tables for readers."""

    name: str
    title: str
    rail: Markup | None
    sticks: list[dict[str, str]]
    groups: list[HangingView]
    learned: str
    day: Markup
    told: str


@room_pages.get("/")
def rooms() -> str:
    """Show all rooms; live numbers also where there is no database."""
    status = room_status()
    look, walls = None, []
    try:
        with records() as db:
            kept = batches(db)
            look = current_look(db, kept)
            walls = [_wall(db, room, hanging(kept), alive=status.alive) for room in status.rooms]
    except StoreError:
        pass  # the status already carries it as a trouble
    zone, now = site().zone, site().now()
    return render_template(
        "room.html",
        **live_parts(status),
        look=look,
        due=say_due(look, zone, now=now) if look else None,
        next_look=say_next(look, zone) if look else None,
        walls=walls,
        first=[] if "sample" in current_app.jinja_env.globals else first_steps(),
    )


def live_parts(status: Status) -> dict[str, object]:
    """Return what the templates with live cards need besides the cards' rooms."""
    return {
        "status": status,
        "title": _title(status),
        "lost": {room.name: if_lost(room.reading.reading, status.at) for room in status.rooms},
        "digits_c": digits_c,
        "digits_pct": digits_pct,
        "set_to": say_set_to,
        "outside": say_outside(status.outside, site().units) if status.outside else "",
        "asked": request.args.get("asked"),
        "door_s": f"{LONGEST_INSPECTION_S:g}",
        "key": secrets.token_hex(16),
    }


def current_look(db: Database, kept: list[Batch]) -> Look:
    """Return today's look over everything that hangs."""
    return look_at(
        hanging(kept),
        latest_reminders(db),
        works_of(db, kept, now=site().now()),
        at=site().settings.inspection.times(),
        zone=site().zone,
        now=site().now(),
        skips=newest_skips(db),
    )


def _title(status: Status) -> str:
    if status.strip:
        return _("! {word} - Room").format(word=status.strip[0].loudness.word)
    told = []
    for room in status.rooms:
        reading = room.reading.reading
        told.append(
            f"{digits_c(reading, site().units)} °{site().units.temperature} {digits_pct(reading)} %"
        )
    return _("{told} - Room").format(told=", ".join(told))


def _wall(db: Database, room: RoomNow, hung: list[HangingGroup], *, alive: bool) -> Wall:
    here = [one for one in hung if one.group.room == room.name]
    zone, units = site().zone, site().units
    foretold = foretold_of(db, (one.group for one in here), site())
    groups = [
        RailGroup(
            title=_("{batch} {letter}, {finish}").format(
                batch=one.batch.number, letter=one.group.letter, finish=one.group.finish
            ),
            window=_("{target:g} %: {window}").format(
                target=one.group.target_yield_pct,
                window=say_window(foretold[one.group.number], zone),
            ),
            sticks=[_drawn(stick, foretold[one.group.number]) for stick in one.group.tagged],
        )
        for one in here
        if one.group.tagged
    ]
    day = _day(db, room, alive=alive)
    return Wall(
        name=room.name,
        title=room.title,
        rail=rail(groups, units) if groups else None,
        sticks=_rows(here, foretold),
        groups=[
            HangingView(
                title=one.title,
                batch=one.batch.number,
                forecast=forecast_view(
                    foretold[one.group.number],
                    one.group,
                    units=units,
                    zone=zone,
                    look_at=site().settings.inspection.times(),
                ),
            )
            for one in here
        ],
        learned=learned_of_room(db, room.name, room.title) if here else "",
        day=draw_day(day, title=room.name, zone=zone),
        told=say_day(day),
    )


def _drawn(stick: Stick, foretold: Foretold) -> Drawn:
    now = foretold.stick_now(stick.tag)
    return drawn(stick, None if now is None else (now.middle_pct, now.spread_pct))


def _rows(here: list[HangingGroup], foretold: Mapping[int, Foretold]) -> list[dict[str, str]]:
    units = site().units
    rows = []
    for one in here:
        for stick in one.group.tagged:
            size = drawn(stick)
            weight_g = stick.weigh_ins[-1].weight_g if stick.weigh_ins else stick.hang_weight_g
            across = "" if size.diameter_mm is None else say_length(size.diameter_mm, units)
            if across and not size.measured:
                across = _("{width} (reckoned)").format(width=across)
            now = foretold[one.group.number].stick_now(stick.tag)
            rows.append(
                {
                    "batch": str(one.batch.number),
                    "tag": stick.tag,
                    "weight": "" if weight_g is None else say_weight(weight_g, units),
                    "yield": "" if size.yield_pct is None else f"{size.yield_pct:.1f} %",
                    "now": ""
                    if now is None
                    else _("{now:.1f} ± {spread:.1f} %").format(
                        now=now.middle_pct, spread=now.spread_pct
                    ),
                    "across": across,
                }
            )
    return rows


def _day(db: Database, room: RoomNow, *, alive: bool) -> Day:
    here, table = site(), site().settings.room[room.name]
    until = here.now()
    since = until - timedelta(hours=HOURS)
    wanted_pct = None
    if table.humidity is not None and room.humidity_setpoint_pct is not None:
        wanted_pct = (room.humidity_setpoint_pct, table.humidity.band_pct)
    wanted_c = None
    if table.temperature is not None:
        wanted_c = (table.temperature.setpoint_c, table.temperature.band_c)
    return day_of_room(
        air_buckets(db, room.name, since=since, until=until, bucket_s=BUCKET_S),
        # From a day earlier, so that what was on when the picture starts is known to be.
        switchings(db, room.name, since=since - timedelta(hours=HOURS), until=until),
        relays=[relay.kind for relay in room.relays],
        until=until,
        known=_known(db, since - timedelta(hours=HOURS), until, alive=alive),
        wanted_c=wanted_c,
        wanted_pct=wanted_pct,
        units=here.units,
    )


def _known(
    db: Database, since: datetime, until: datetime, *, alive: bool
) -> list[tuple[datetime, datetime]]:
    """Return when the daemon ran; it notes that once a minute, so a live one ran until now."""
    runs = daemon_runs(db, since=since)
    if alive and runs:
        runs[-1] = (runs[-1][0], until)
    return runs


@room_pages.app_context_processor
def _common() -> dict[str, object]:
    """Give every template the site, the moment, whether this browser may act, what waits."""
    here, board = site(), live_board()
    alive = is_alive(board, boot_id=here.boot_id, uptime_s=here.clock.uptime_s())
    looks = may_look()
    return {
        "site": here,
        "now": here.now(),
        "logged_in": logged_in(),
        "token": _token,
        "may_look": looks,
        "alarms_waiting": waiting(board) if looks and alive and board else 0,
        "banner": banner() if looks else None,
    }


def _token() -> Markup:
    """Return the hidden field that shows a form to be of this page; sets the session's cookie."""
    return Markup('<input type="hidden" name="csrf_token" value="{}">').format(generate_csrf())
