"""`/api/v1/rooms/ROOM/history`: a room's past in stretches, for the page's script and others.

What may be asked stands in `hangroom_web.history.window`. Values are SI; one that was not read is
null. `drawn` says how the page draws them, in the keeper's units and zone.
"""

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from flask import Blueprint, Response, request

from hangroom.errors import InputError, StoreError
from hangroom.store.relay_times import RelayTime
from hangroom.units import temperature_shown
from hangroom_web.history.past import Band, Past, Quantity
from hangroom_web.history.reading import past_of
from hangroom_web.history.ticks import ticks
from hangroom_web.history.words import MARK_WORDS, Saying, say_gap, say_mark, say_picture, say_relay
from hangroom_web.relays import RELAY_NAMES
from hangroom_web.site import live_board, records, site
from hangroom_web.words import _

history_api = Blueprint("history_api", __name__)

# A little finer than a phone's screen; who asks for more `points` gets up to 1440.
MOST_DRAWN = 481


@history_api.get("/api/v1/rooms/<room>/history")
def history(room: str) -> Response:
    """Answer with a room's past; 404 for a stranger's room, 422 with words for what is wrong."""
    here = site()
    if room not in here.settings.room:
        return _told({"fault": _("There is no such room.")}, 404)
    try:
        with records() as db:
            past = past_of(
                db, room, request.args.to_dict(), site=here, board=live_board(), most=MOST_DRAWN
            )
    except InputError as fault:
        return _told({"fault": str(fault)}, 422)
    except StoreError as fault:
        return _told({"fault": str(fault)}, 503)
    return _told(past_json(past, Saying(zone=here.zone, now=here.now())))


def past_json(past: Past, saying: Saying) -> dict[str, Any]:
    """Return the JSON form of a past."""
    window, zone = past.window, saying.zone

    def iso(at: datetime) -> str:
        return at.astimezone(zone).isoformat(timespec="seconds")

    return {
        "room": past.room,
        "title": past.title,
        "sensor": past.sensor.name if past.sensor else None,
        "outside": not past.belongs,
        "at": iso(saying.now),
        "since": iso(window.since),
        "until": iso(window.until),
        "stretch_s": window.stretch_s,
        "readings": [cell.readings if cell else 0 for cell in past.cells],
        "temperature": {
            "unit": "degC",
            "lowest": _rounded((cell and cell.lowest_c for cell in past.cells), 2),
            "mean": _rounded((cell and cell.mean_c for cell in past.cells), 2),
            "highest": _rounded((cell and cell.highest_c for cell in past.cells), 2),
        },
        "humidity": {
            "unit": "%RH",
            "corrected": past.corrected,
            "lowest": _rounded(past.humidity.low, 2),
            "mean": _rounded(past.humidity.mean, 2),
            "highest": _rounded(past.humidity.high, 2),
        },
        "relays": {str(relay): _shares(times) for relay, times in past.relays.items()},
        "wanted": [
            {
                "since": iso(one.from_at),
                "until": iso(one.to_at),
                "stage": one.stage,
                "temperature_c": one.temperature and one.temperature[0],
                "temperature_band_c": one.temperature and one.temperature[1],
                "humidity_pct": one.humidity and one.humidity[0],
                "humidity_band_pct": one.humidity and one.humidity[1],
            }
            for one in past.wanted
        ],
        "gaps": [
            {
                "since": iso(gap.from_at),
                "until": iso(gap.to_at),
                "controller_off": gap.controller_off,
                "said": say_gap(gap, saying),
            }
            for gap in past.gaps
        ],
        "marks": [
            {
                "at": iso(mark.at),
                "until": mark.until and iso(mark.until),
                "kind": mark.kind,
                "said": say_mark(mark, saying, past.units),
            }
            for mark in past.marks
        ],
        "drawn": _drawn(past, saying),
    }


def _drawn(past: Past, saying: Saying) -> dict[str, Any]:
    """Return what the picture needs besides: seconds since 1970, the unit shown, names."""
    window = past.window
    zero = temperature_shown(0.0, past.units)
    return {
        "zone": saying.zone.key,
        "said": say_picture(past, saying),
        "live": window.live,
        "since_s": _seconds(window.since),
        "until_s": _seconds(window.until),
        "ticks": [
            [_seconds(tick.at), tick.words]
            for tick in ticks(window.since, window.until, saying.zone)
        ],
        "temperature": {
            **_strip(past.temperature),
            "times": temperature_shown(1.0, past.units) - zero,
            "plus": zero,
        },
        "humidity": {**_strip(past.humidity), "times": 1, "plus": 0},
        "relays": {
            str(relay): [RELAY_NAMES[relay], say_relay(relay, times)]
            for relay, times in past.relays.items()
        },
        "gaps_s": [[_seconds(gap.from_at), _seconds(gap.to_at)] for gap in past.gaps],
        "marks_s": [_seconds(mark.at) for mark in past.marks],
        "kinds": {str(kind): said for kind, said in MARK_WORDS.items()},
    }


def _strip(quantity: Quantity) -> dict[str, Any]:
    return {
        "name": quantity.name,
        "unit": quantity.unit,
        "span": quantity.span,
        "bands_s": [_band(band) for band in quantity.bands],
    }


def _band(band: Band) -> list[float]:
    return [
        *(_seconds(band.from_at), _seconds(band.to_at)),
        *(round(value, 3) for value in (band.low, band.setpoint, band.high)),
    ]


def _shares(times: Sequence[RelayTime]) -> list[float | None]:
    return _rounded((time.on_ratio for time in times), 3)


def _rounded(values: Iterable[float | None], digits: int) -> list[float | None]:
    return [None if value is None else round(value, digits) for value in values]


def _seconds(at: datetime) -> int:
    return round(at.timestamp())


def _told(body: dict[str, Any], code: int = 200) -> Response:
    answer = Response(
        json.dumps(body, ensure_ascii=False, separators=(",", ":")),
        status=code,
        mimetype="application/json",
    )
    answer.headers["Cache-Control"] = "no-cache"
    return answer
