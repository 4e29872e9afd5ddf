"""`/api/v1/now`: the rooms as they may be shown, for the page's own script and other programs."""

import json
from collections.abc import Mapping
from datetime import datetime
from hashlib import sha256
from typing import Any

from flask import Blueprint, Response, request

from hangroom.terms import AirReading
from hangroom.units import Units, temperature_shown
from hangroom_web.dates import say_moment
from hangroom_web.gather import room_status
from hangroom_web.site import site
from hangroom_web.status import RelayNow, RoomNow, Status, last_good
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
        "rooms": {room.name: _room(room, status.at) for room in status.rooms},
    }


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
        "relays": {str(relay.kind): _relay(relay) for relay in room.relays},
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
