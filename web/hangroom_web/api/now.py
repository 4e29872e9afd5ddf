"""`/api/v1/now`: the rooms as they may be shown, for the page's own script and other programs."""

import json
from collections.abc import Mapping
from datetime import datetime
from hashlib import sha256
from typing import Any

from flask import Blueprint, Response, request

from hangroom.store.live import LiveAir
from hangroom.terms import AirReading
from hangroom.units import Units, say_temperature, temperature_shown
from hangroom_web.alarms import AlarmNow, mark_of
from hangroom_web.dates import say_moment
from hangroom_web.gather import banner, room_status
from hangroom_web.relays import RelayNow
from hangroom_web.rooms import RoomNow
from hangroom_web.sensors import SensorNow, last_good
from hangroom_web.site import site
from hangroom_web.status import Status, StripLine
from hangroom_web.words import _

api = Blueprint("api", __name__)


@api.get("/api/v1/now")
def now() -> Response:
    """Answer with every room; a value that is not fresh is null, with `last_good` beside it.

    The ETag leaves ages and wording aside: a client that is told 304 counts its ages on.
    """
    told = status_json(room_status())
    answer = Response(json.dumps(told, ensure_ascii=False), mimetype="application/json")
    answer.set_etag(_fingerprint(told))
    answer.headers["Cache-Control"] = "no-cache"
    answer.make_conditional(request)
    return answer


def status_json(status: Status) -> dict[str, Any]:
    """Return the JSON form of a status; values SI, `said` in the keeper's words and units."""
    return {
        "at": _iso(status.at),
        "ask_again_s": round(status.ask_again_s, 1),
        "daemon": {
            "state": "live" if status.alive else "down",
            "age_s": _rounded(status.board_age_s),
        },
        "troubles": list(status.troubles),
        "alarms": [_alarm(alarm) for alarm in status.alarms],
        "alarms_mark": mark_of(status.alarms),
        "strip": [_line(line) for line in status.strip],
        "banner": _line(banner()),
        "outside": _outside(status),
        "rooms": {room.name: _room(room, status.at) for room in status.rooms},
    }


def _line(line: StripLine | None) -> dict[str, str] | None:
    if line is None:
        return None
    return {"word": line.loudness.word, "said": line.said, "loudness": str(line.loudness)}


def _room(room: RoomNow, at: datetime) -> dict[str, Any]:
    units, reading = site().units, room.reading
    shown = reading.reading if reading.freshness.shows_digits else None
    old = reading.reading if shown is None else None
    common = {
        "taken_at": _iso(shown.taken_at) if shown else None,
        "age_s": _rounded(reading.age_s) if shown else None,
        "state": str(reading.freshness),
    }
    return {
        "title": room.title,
        "stage": room.stage,
        "stage_run": _stage_run(room),
        "said": None if shown else reading.said,
        "lost": if_lost(reading.reading, at),
        "temperature": {
            "value": shown.temperature_c if shown else None,
            "unit": "degC",
            "shown": digits_c(shown, units),
            **common,
            "last_good": _last_good("temperature_c", old, reading.age_s),
        },
        "humidity": {
            "value": shown.humidity_pct if shown else None,
            "unit": "%RH",
            "shown": digits_pct(shown),
            **common,
            "last_good": _last_good("humidity_pct", old, reading.age_s),
        },
        "humidity_setpoint_pct": room.humidity_setpoint_pct,
        "temperature_setpoint_c": room.temperature_setpoint_c,
        "temperature_wanted": say_set_to(room.temperature_wanted),
        "humidity_wanted": say_set_to(room.humidity_wanted),
        "sensors": {sensor.name: _sensor(sensor) for sensor in room.sensors},
        "relays": {str(relay.kind): _relay(relay) for relay in room.relays},
        "door": room.door or None,
        "watch": room.watch or None,
        "asked": room.asked,
    }


def digits_c(reading: AirReading | None, units: Units) -> str | None:
    """Return the temperature's digits in the keeper's unit, without it."""
    return f"{temperature_shown(reading.temperature_c, units):.1f}" if reading else None


def digits_pct(reading: AirReading | None) -> str | None:
    """Return the humidity's digits."""
    return f"{reading.humidity_pct:.1f}" if reading else None


def _last_good(name: str, reading: AirReading | None, age_s: float | None) -> dict[str, Any] | None:
    if reading is None:
        return None
    return {
        "value": getattr(reading, name),
        "taken_at": _iso(reading.taken_at),
        "age_s": _rounded(age_s),
    }


def if_lost(reading: AirReading | None, at: datetime) -> str:
    """Return what the page shall say of this room if it loses contact after this answer."""
    if reading is None:
        return _("No reading is known.")
    moment = say_moment(reading.taken_at, site().zone, now=at)
    return last_good(reading, units=site().units, moment=moment) + "."


def _relay(relay: RelayNow) -> dict[str, Any]:
    state = "unknown" if relay.closed is None else "on" if relay.closed else "off"
    return {
        "state": state,
        "since": _iso(relay.since_at) if relay.since_at else None,
        "because": relay.because,
        "said": relay.said,
        "by_hand": relay.by_hand or None,
        "locked_out": relay.locked_out,
        "dose_s": relay.dose_s,
    }


def _sensor(sensor: SensorNow) -> dict[str, Any]:
    fresh = sensor.freshness.shows_digits and sensor.reading is not None
    return {
        "temperature_c": sensor.reading.temperature_c if fresh and sensor.reading else None,
        "humidity_pct": sensor.reading.humidity_pct if fresh and sensor.reading else None,
        "age_s": _rounded(sensor.age_s),
        "state": str(sensor.freshness),
        "shown": sensor.shown,
        "said": sensor.said,
    }


def _stage_run(room: RoomNow) -> dict[str, Any] | None:
    run = room.stage_run
    if run is None:
        return None
    gone_ratio = None if run.gone_ratio is None else round(run.gone_ratio, 2)
    return {"said": run.said, "begun": run.begun, "gone_ratio": gone_ratio}


def _alarm(alarm: AlarmNow) -> dict[str, Any]:
    return {
        "alarm": str(alarm.alarm),
        "scope": alarm.scope,
        "where": alarm.where,
        "title": alarm.title,
        "priority": str(alarm.row.priority),
        "needs_somebody": alarm.needs_somebody,
        "state": alarm.state,
        "said": alarm.said,
    }


def say_set_to(wanted: str | None) -> str:
    """Return for example 'set to 76 ± 3 %', or that the air comes as it comes."""
    return _("set to {}").format(wanted) if wanted else _("as it comes")


def say_outside(air: LiveAir, units: Units) -> str:
    """Return for example 'Outside 8.2 °C, 61.0 %'."""
    return _("Outside {temperature}, {humidity:.1f} %").format(
        temperature=say_temperature(air.temperature_c, units), humidity=air.humidity_pct
    )


def _outside(status: Status) -> dict[str, Any] | None:
    air = status.outside
    if air is None:
        return None
    return {
        "temperature_c": air.temperature_c,
        "humidity_pct": air.humidity_pct,
        "said": say_outside(air, site().units),
    }


def _fingerprint(told: Mapping[str, Any]) -> str:
    return sha256(json.dumps(_without_ages(told), sort_keys=True).encode()).hexdigest()[:20]


def _without_ages(told: Any) -> Any:  # noqa: ANN401 - any part of a JSON document
    if isinstance(told, Mapping):
        return {k: _without_ages(v) for k, v in told.items() if k not in {"age_s", "at"}}
    return told


def _iso(at: datetime) -> str:
    return at.isoformat(timespec="seconds")


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
