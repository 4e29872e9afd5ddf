"""Setup: what the rooms are wired to, how far it is proved, what the settings say; salt checks."""

from collections.abc import Sequence
from dataclasses import dataclass

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from hangroom.air import Salt
from hangroom.errors import InputError, StoreError
from hangroom.settings import RoomTable
from hangroom.store.requests import Kind
from hangroom.store.salt_checks import KeptCheck, salt_checks
from hangroom.units import (
    say_temperature,
    temperature_shown,
    temperature_stored,
    typed_number,
)
from hangroom_web.bell import bell_view
from hangroom_web.dates import say_day
from hangroom_web.gather import room_status
from hangroom_web.pages.backup import backup_now
from hangroom_web.pages.login import setting, who
from hangroom_web.pages.notices import notices_now
from hangroom_web.pages.room import live_parts
from hangroom_web.relays import RELAY_NAMES, RelayNow
from hangroom_web.sensors import SensorNow, say_place
from hangroom_web.setup import (
    SALT_NAMES,
    Limit,
    food_limits,
    is_due,
    salts_over,
    say_calibration,
    say_room,
    say_rules,
)
from hangroom_web.site import live_board, records, site
from hangroom_web.status import Status
from hangroom_web.wishes import asked_for, wish
from hangroom_web.words import _

setup_pages = Blueprint("setup", __name__)

# Where a jar's temperature is not known, the table is shown for this one, degC.
USUAL_JAR_C = 20.0

UNKNOWN = _("Not known: the controller has not reported here.")

Checks = dict[tuple[str, str], tuple[KeptCheck, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorView:
    """A sensor as Setup shows it: what it reads, what it is wired to, how it was checked."""

    name: str
    wired: str
    now: SensorNow | None
    calibration: str
    due: bool
    checks: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayView:
    """A relay as Setup shows it: what it is wired to, its rules, what was learned."""

    name: str
    wired: str
    rules: Sequence[str]
    learned: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomView:
    """A room as Setup shows it."""

    name: str
    title: str
    sensors: Sequence[SensorView]
    relays: Sequence[RelayView]
    limits: Sequence[Limit]
    settings: Sequence[tuple[str, str]]


@setup_pages.get("/setup")
def setup() -> str:
    """Show everything that is set up."""
    status = room_status()
    checks, asked = _kept()
    board = live_board()
    return render_template(
        "setup.html",
        **live_parts(status),
        rooms=[_room(name, table, status, checks) for name, table in site().settings.room.items()],
        told=asked,
        version=board.version if board else "",
        notices=notices_now(),
        backup=backup_now(),
        bell=bell_view(site().settings.bell, board.bell if board else None, alive=status.alive),
    )


@setup_pages.get("/setup/salt/<room>/<sensor>")
def salt_check(room: str, sensor: str) -> str:
    """Guide through a check of a sensor over a salt."""
    here, table = site(), _table(room, sensor)
    status = room_status()
    now = _sensor(status, room, sensor)
    reading = now.reading if now is not None and now.shown else None
    temperature_c = USUAL_JAR_C if reading is None else reading.temperature_c
    checks, asked = _kept()
    return render_template(
        "salt_check.html",
        **live_parts(status),
        room=room,
        room_title=table.title,
        sensor=sensor,
        alone=len(table.sensor) == 1,
        now=now,
        reading=reading,
        temperature=f"{temperature_shown(temperature_c, here.units):.1f}",
        jar=say_temperature(temperature_c, here.units),
        salts=salts_over(temperature_c),
        checks=[_say_check(check) for check in checks.get((room, sensor), ())],
        calibration=say_calibration(now.calibration, now=here.now()) if now else UNKNOWN,
        calibrated=now is not None and now.calibration is not None,
        told=asked,
    )


@setup_pages.post("/setup/salt/<room>/<sensor>")
@setting
def keep_check(room: str, sensor: str) -> Response:
    """Ask for a salt check to count."""
    _table(room, sensor)
    salt = request.form.get("salt", "")
    if salt not in set(Salt):
        raise InputError(_("Choose the salt that is in the jar. Nothing was changed."))
    number = wish(
        Kind.CALIBRATION,
        room,
        {
            "sensor": sensor,
            "salt": salt,
            "read_pct": typed_number(request.form.get("read", ""), what=_("reading")),
            "temperature_c": temperature_stored(request.form.get("jar", ""), site().units),
        },
        asked_by=who(),
    )
    return redirect(url_for("setup.salt_check", room=room, sensor=sensor, asked=number), 303)


@setup_pages.post("/setup/salt/<room>/<sensor>/forget")
@setting
def forget_checks(room: str, sensor: str) -> Response:
    """Ask for a sensor's own reading to count again, as when it was exchanged."""
    _table(room, sensor)
    number = wish(Kind.CALIBRATION_FORGET, room, {"sensor": sensor}, asked_by=who())
    return redirect(url_for("setup.salt_check", room=room, sensor=sensor, asked=number), 303)


def _table(room: str, sensor: str) -> RoomTable:
    table = site().settings.room.get(room)
    if table is None or sensor not in table.sensor:
        abort(404)
    return table


def _kept() -> tuple[Checks, str]:
    """Return the salt checks that count, and what became of the wish that the address names."""
    try:
        with records() as db:
            told = asked_for(db, request.args.get("asked"))
            return salt_checks(db), told[1] if told else ""
    except StoreError:
        return {}, ""  # the status already carries it as a trouble


def _room(name: str, table: RoomTable, status: Status, checks: Checks) -> RoomView:
    return RoomView(
        name=name,
        title=table.title,
        sensors=[
            _sensor_view(name, table, sensor, status, checks.get((name, sensor), ()))
            for sensor in table.sensor
        ],
        relays=[_relay_view(table, relay) for relay in _relays(status, name)],
        limits=food_limits(table, site().units),
        settings=say_room(table, site().units),
    )


def _sensor_view(
    room: str, table: RoomTable, sensor: str, status: Status, checks: Sequence[KeptCheck]
) -> SensorView:
    now, at = _sensor(status, room, sensor), site().now()
    wired = table.sensor[sensor]
    return SensorView(
        name=sensor,
        wired=_("{kind} on {place}, read every {every:g} s").format(
            kind=wired.kind.upper(), place=say_place(wired), every=wired.read_every_s
        ),
        now=now,
        calibration=say_calibration(now.calibration, now=at) if now else UNKNOWN,
        due=now is not None and is_due(now.calibration, now=at),
        checks=[_say_check(check) for check in checks],
    )


def _relay_view(table: RoomTable, relay: RelayNow) -> RelayView:
    wired = next(one for one in table.relay.values() if one.switches() is relay.kind)
    return RelayView(
        name=RELAY_NAMES[relay.kind],
        wired=_("pin {pin}, closes on a {level} pin").format(
            pin=wired.pin, level=_("high") if wired.active_high else _("low")
        ),
        rules=say_rules(wired.rules()),
        learned=relay.learned,
    )


def _sensor(status: Status, room: str, sensor: str) -> SensorNow | None:
    """Return a sensor as the board tells it, None where the daemon does not report."""
    here = next(one for one in status.rooms if one.name == room)
    return next((one for one in here.sensors if one.name == sensor), None)


def _relays(status: Status, room: str) -> Sequence[RelayNow]:
    return next(one for one in status.rooms if one.name == room).relays


def _say_check(check: KeptCheck) -> str:
    here = site()
    return _("{salt}: read {read:.1f} % at {jar}, {day}, by {by}").format(
        salt=SALT_NAMES[Salt(check.salt)],
        read=check.read_pct,
        jar=say_temperature(check.temperature_c, here.units),
        day=say_day(check.checked_at, here.zone),
        by=check.checked_by,
    )
