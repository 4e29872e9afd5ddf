"""One room's controls: what a person may ask of it. The daemon checks every wish and answers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from hangroom.errors import StoreError
from hangroom.settings import RoomTable
from hangroom.stage_table import AIRS_ALL_THE_TIME
from hangroom.store.batches import Batch, batches
from hangroom.store.requests import Kind
from hangroom.store.setpoints import setpoints
from hangroom.terms import RelayKind, Stage, StagePlan
from hangroom.units import temperature_shown
from hangroom_web.gather import room_status
from hangroom_web.pages.login import acting, setting, who
from hangroom_web.pages.room import live_parts
from hangroom_web.relays import RELAY_NAMES
from hangroom_web.rooms import RoomNow
from hangroom_web.site import records, site
from hangroom_web.stages import (
    STAGE_DOES,
    STAGE_NAMES,
    say_lasts,
    say_relays,
    say_wanted,
)
from hangroom_web.wanted import (
    HAND_WHYS,
    HOUR_S,
    IN_MY_WORDS,
    LONGEST_WHY,
    Body,
    hand_body,
    hand_times,
    humidity_body,
    relay_body,
    stage_body,
    temperature_body,
    time_s,
)
from hangroom_web.wishes import wish
from hangroom_web.words import _

control_pages = Blueprint("controls", __name__)

AskedFor = Mapping[tuple[str, Stage, str], float]

# What to look at before a lockout is lifted, by what was locked out.
LOOK_FIRST = {
    RelayKind.HUMIDIFIER: _(
        "It ran for as long as it may without the room growing moist enough. Is there water in the "
        "tank, does it mist, is the door shut? Is the floor dry?"
    ),
    RelayKind.EXHAUST_FAN: _(
        "It ran for as long as it may without the room growing dry enough. Does the fan turn, is "
        "the duct clear, is the air outside drier than the room's?"
    ),
    RelayKind.CIRCULATION_FAN: _("It ran for as long as it may. Does the fan turn freely?"),
    RelayKind.COOLING: _(
        "It ran for as long as it may without the room growing cold. Is the door shut, is the coil "
        "iced up, does the compressor run?"
    ),
    RelayKind.HEATER: _(
        "It ran for as long as it may without the room growing warm. Is anything hot that should "
        "not be? Let it cool down before you lift this."
    ),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StageChoice:
    """A stage that may be begun, with what it does to the room's air."""

    stage: Stage
    name: str
    does: str
    asks: Sequence[str]
    lasts: str
    hours: str
    then: Stage | None
    needs_an_end: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Setpoint:
    """A setpoint that may be asked for: where, as it stands, and between which figures."""

    endpoint: str
    label: str
    value: str
    between: str


@control_pages.get("/rooms/<name>")
def controls(name: str) -> str:
    """Show one room with everything that may be asked of it."""
    table = _table(name)
    status = room_status()
    room = next(room for room in status.rooms if room.name == name)
    asked_for, hanging = _kept(name)
    return render_template(
        "controls.html",
        **live_parts(status),
        room=room,
        stages=_stages(name, table, asked_for),
        stage_names=STAGE_NAMES,
        hanging=hanging,
        setpoints=_setpoints(table, room),
        hand_times=hand_times,
        relay_names=RELAY_NAMES,
        hand_whys=HAND_WHYS,
        in_my_words=IN_MY_WORDS,
        longest_why=LONGEST_WHY,
        look_first=LOOK_FIRST,
    )


@control_pages.post("/rooms/<name>/humidity")
@setting
def ask_humidity(name: str) -> Response:
    """Ask for another humidity setpoint."""
    if _table(name).humidity is None:
        abort(404)
    return _asked(name, Kind.HUMIDITY_SETPOINT, humidity_body(request.form))


@control_pages.post("/rooms/<name>/temperature")
@setting
def ask_temperature(name: str) -> Response:
    """Ask for another temperature setpoint."""
    if _table(name).temperature is None:
        abort(404)
    return _asked(name, Kind.TEMPERATURE_SETPOINT, temperature_body(request.form, site().units))


@control_pages.post("/rooms/<name>/stage")
@setting
def begin_stage(name: str) -> Response:
    """Ask for a stage to begin."""
    return _asked(name, Kind.STAGE, stage_body(request.form))


@control_pages.post("/rooms/<name>/hand")
@setting
def switch_by_hand(name: str) -> Response:
    """Ask for a relay's position for a while."""
    return _asked(name, Kind.OVERRIDE, hand_body(request.form))


@control_pages.post("/rooms/<name>/hand/end")
@setting
def leave_to_controller(name: str) -> Response:
    """Ask for a relay to be left to the controller again."""
    return _asked(name, Kind.OVERRIDE_END, relay_body(request.form))


@control_pages.post("/rooms/<name>/door")
@acting
def open_door(name: str) -> Response:
    """Announce an open door."""
    return _asked(name, Kind.INSPECTION_BEGIN, {"for_s": time_s(request.form)})


@control_pages.post("/rooms/<name>/door/shut")
@acting
def shut_door(name: str) -> Response:
    """Say that the door is shut again."""
    return _asked(name, Kind.INSPECTION_END, {})


@control_pages.post("/rooms/<name>/lockouts")
@setting
def lift_lockouts(name: str) -> Response:
    """Ask for the room's lockouts to be lifted."""
    return _asked(name, Kind.LOCKOUTS_LIFT, {})


def _asked(name: str, kind: Kind, body: Body) -> Response:
    """Ask the daemon, then go back to where the form was, with what became of it."""
    _table(name)
    number = wish(kind, name, body, asked_by=who())
    if request.form.get("back") == "rooms":
        return redirect(url_for("room.rooms", asked=number, _anchor=f"room-{name}"), 303)
    return redirect(url_for("controls.controls", name=name, asked=number), 303)


def _table(name: str) -> RoomTable:
    found = site().settings.room.get(name)
    if found is None:
        abort(404)
    return found


def _kept(name: str) -> tuple[AskedFor, list[Batch]]:
    """Return the setpoints asked for so far, and the batches that hang in a room."""
    try:
        with records() as db:
            return setpoints(db), [
                batch for batch in batches(db) if any(group.room == name for group in batch.groups)
            ]
    except StoreError:
        return {}, []  # the status already carries it as a trouble


def _stages(name: str, table: RoomTable, asked_for: AskedFor) -> list[StageChoice]:
    relays = [relay.switches() for relay in table.relay.values()]
    choices = []
    for stage, planned in table.stages().items():
        plan = _with_setpoints(planned, name, stage, asked_for)
        asks = say_wanted(stage, plan.humidity, plan.temperature, site().units)
        choices.append(
            StageChoice(
                stage=stage,
                name=STAGE_NAMES[stage],
                does=STAGE_DOES[stage],
                asks=[*asks, *say_relays(stage, relays)],
                lasts=say_lasts(plan),
                hours="" if plan.for_s is None else f"{plan.for_s / HOUR_S:g}",
                then=plan.then,
                needs_an_end=stage in AIRS_ALL_THE_TIME,
            )
        )
    return choices


def _with_setpoints(plan: StagePlan, name: str, stage: Stage, asked_for: AskedFor) -> StagePlan:
    humidity, temperature = plan.humidity, plan.temperature
    asked_pct = asked_for.get((name, stage, Kind.HUMIDITY_SETPOINT))
    asked_c = asked_for.get((name, stage, Kind.TEMPERATURE_SETPOINT))
    if humidity is not None and asked_pct is not None:
        humidity = replace(humidity, setpoint_pct=asked_pct)
    if temperature is not None and asked_c is not None:
        temperature = replace(temperature, setpoint_c=asked_c)
    return replace(plan, humidity=humidity, temperature=temperature)


def _setpoints(table: RoomTable, room: RoomNow) -> list[Setpoint]:
    found, units = [], site().units
    humidity, temperature = table.humidity, table.temperature
    if humidity is not None and room.humidity_wanted and room.humidity_setpoint_pct is not None:
        found.append(
            Setpoint(
                endpoint="controls.ask_humidity",
                label=_("Humidity wanted, %"),
                value=f"{room.humidity_setpoint_pct:g}",
                between=_("The hard limits are {low:g} and {high:g} %.").format(
                    low=humidity.low_limit_pct, high=humidity.high_limit_pct
                ),
            )
        )
    if (
        temperature is not None
        and room.temperature_wanted
        and room.temperature_setpoint_c is not None
    ):
        low, high, value = (
            round(temperature_shown(figure_c, units), 1)
            for figure_c in (
                temperature.low_limit_c,
                temperature.high_limit_c,
                room.temperature_setpoint_c,
            )
        )
        found.append(
            Setpoint(
                endpoint="controls.ask_temperature",
                label=_("Temperature wanted, °{}").format(units.temperature),
                value=f"{value:g}",
                between=_("The hard limits are {low:g} and {high:g} °{unit}.").format(
                    low=low, high=high, unit=units.temperature
                ),
            )
        )
    return found
