"""What other programs may do: enter a weight, ask for a setpoint, look what became of it.

A person's browser may do the same with its log-in and the token of a page, in `X-CSRFToken`.
"""

import json
from collections.abc import Callable, Mapping
from functools import wraps
from importlib.resources import files
from typing import Any, ParamSpec, TypeVar

from flask import Blueprint, Response, abort, request, url_for
from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.store.batch_facts import SurfaceFinding
from hangroom.store.checks import AHEAD_AT_MOST
from hangroom.store.record.edits import Kept, was_corrected
from hangroom.store.requests import Kind, Request, ask, request_by_number
from hangroom.store.weigh_ins import (
    NewWeighIn,
    Question,
    add_weigh_in,
    questions,
    stored_as,
    stored_weight_g,
    tags_in_use,
)
from hangroom_web.api.body import flag, moment, number, read_body, text, whole
from hangroom_web.api.problem import Answer, problem
from hangroom_web.bearer import api_token
from hangroom_web.entries import LONGEST_KEY, LONGEST_NOTE
from hangroom_web.session import logged_in, recently_given, who
from hangroom_web.site import records, site
from hangroom_web.words import _

api_acts = Blueprint("api_acts", __name__)

WEIGH_IN = frozenset(
    {
        *("key", "tag", "weight_g", "taken_at", "squeeze", "wrinkle_mm", "diameter_mm"),
        *("surface", "note", "confirm"),
    }
)
SETPOINT = frozenset({"key", "humidity_pct", "temperature_c"})
LONGEST_TAG = 60
# Beyond these it is no such figure at all; the room's own limits, which are narrower, are the
# daemon's to hold it against. Percent and degC.
LIKELY = {Kind.HUMIDITY_SETPOINT: (0.0, 100.0), Kind.TEMPERATURE_SETPOINT: (-50.0, 100.0)}

P = ParamSpec("P")
R = TypeVar("R")


def acting_here(page: Callable[P, R]) -> Callable[P, R]:
    """Let in a token, whose scope was checked before, or a browser that is logged in."""

    @wraps(page)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        if api_token() is None and not logged_in():
            abort(401)
        return page(*args, **kwargs)

    return guarded


@api_acts.get("/api/v1/openapi.json")
def openapi() -> Response:
    """Return the description of all this, OpenAPI 3.1."""
    held = files("hangroom_web.api").joinpath("openapi.json").read_bytes()
    return Response(held, mimetype="application/json")


@api_acts.post("/api/v1/weigh-ins")
@acting_here
def weigh_in() -> Response | Answer:
    """Store a weight; the same `key` twice is one, and an odd one is asked about."""
    body = read_body(request.get_data(), WEIGH_IN)
    entry, confirmed = _entry(body), flag(body, "confirm")
    with records() as db:
        before = stored_as(db, entry.key)
        if before is not None:
            weight_g = stored_weight_g(db, entry.key)
            if before.tag != entry.tag or (
                weight_g != entry.weight_g and not was_corrected(db, Kept.WEIGH_IN, entry.key)
            ):
                return problem(
                    _("That key is stored with another stick or weight. Use a new key."), 409
                )
            return _json({"key": entry.key, "tag": before.tag, "weight_g": weight_g}, 200)
        if entry.tag not in tags_in_use(db):
            return problem(_("No stick bears that tag. Nothing was stored."), 404)
        asked = questions(db, [entry])
        if asked and not confirmed:
            return problem(_say(asked[0]), 409)
        add_weigh_in(db, entry)
    return _json({"key": entry.key, "tag": entry.tag, "weight_g": entry.weight_g}, 201)


@api_acts.post("/api/v1/rooms/<room>/setpoint")
@acting_here
def ask_setpoint(room: str) -> Response | Answer:
    """Ask the daemon for a setpoint: it checks it against the limits, and answers a bit later."""
    if api_token() is None and not recently_given():
        abort(403, "again")
    table = site().settings.room.get(room)
    if table is None:
        abort(404)
    body = read_body(request.get_data(), SETPOINT)
    humidity_pct, temperature_c = number(body, "humidity_pct"), number(body, "temperature_c")
    if (humidity_pct is None) == (temperature_c is None):
        raise InputError(_("Send humidity_pct or temperature_c, one of them. Nothing was changed."))
    kind = Kind.TEMPERATURE_SETPOINT if humidity_pct is None else Kind.HUMIDITY_SETPOINT
    if (table.temperature if humidity_pct is None else table.humidity) is None:
        raise InputError(_("This room has no such setpoint in the settings. Nothing was changed."))
    value = temperature_c if humidity_pct is None else humidity_pct
    low, high = LIKELY[kind]
    if value is None or not low < value < high:
        raise InputError(
            _("A setpoint lies between {low:g} and {high:g}. Nothing was changed.").format(
                low=low, high=high
            )
        )
    key = text(body, "key", longest=LONGEST_KEY, needed=True)
    with records() as db:
        asked = _asked(db, key=f"{_by()} {key}", kind=kind, room=room, value=value)
    if (asked.kind, asked.room, asked.body) != (kind, room, {"value": value}):
        return problem(_("That key was used for another request. Use a new key."), 409)
    answer = _json(_told(asked), 202)
    answer.headers["Location"] = url_for("api_acts.answer", number=asked.number)
    return answer


@api_acts.get("/api/v1/requests/<int:number>")
def answer(number: int) -> Response:
    """Return what became of a request."""
    with records() as db:
        asked = request_by_number(db, number)
    if asked is None:
        abort(404)
    return _json(_told(asked), 200)


def _entry(body: Mapping[str, Any]) -> NewWeighIn:
    now = site().now()
    weight_g = number(body, "weight_g")
    if weight_g is None:
        raise InputError(_("weight_g is missing. Nothing was stored."))
    taken_at = moment(body, "taken_at") or now
    if now < taken_at <= now + AHEAD_AT_MOST:
        taken_at = now  # the clocks of two machines; later ones are refused by name
    return NewWeighIn(
        key=text(body, "key", longest=LONGEST_KEY, needed=True),
        tag=text(body, "tag", longest=LONGEST_TAG, needed=True),
        taken_at=taken_at,
        weight_g=weight_g,
        squeeze=whole(body, "squeeze"),
        wrinkle_mm=number(body, "wrinkle_mm"),
        diameter_mm=number(body, "diameter_mm"),
        note=text(body, "note", longest=LONGEST_NOTE),
        surface=_surface(body.get("surface")),
        entered_at=now,
        entered_by=_by(),
    )


def _surface(told: object) -> frozenset[SurfaceFinding] | None:
    if told is None:
        return None
    known = list(SurfaceFinding)  # a list: what was sent may be what no set can be asked about
    if not isinstance(told, list) or any(one not in known for one in told):
        raise InputError(
            _("surface is a list of {known}; empty for nothing found. Nothing was stored.").format(
                known=", ".join(known)
            )
        )
    return frozenset(SurfaceFinding(one) for one in told)


def _asked(db: Database, *, key: str, kind: Kind, room: str, value: float | None) -> Request:
    number = ask(
        db, key=key, kind=kind, room=room, body={"value": value}, asked_by=_by(), now=site().now()
    )
    asked = request_by_number(db, number)
    if asked is None:
        abort(404)
    return asked


def _told(asked: Request) -> dict[str, Any]:
    open_state = "waiting" if site().now() < asked.expires_at else "expired"
    return {
        "request": asked.number,
        "room": asked.room,
        "kind": asked.kind,
        "asked_at": asked.asked_at.isoformat(timespec="seconds"),
        "expires_at": asked.expires_at.isoformat(timespec="seconds"),
        "state": open_state if asked.outcome is None else str(asked.outcome),
        "answer": asked.answer,
    }


def _say(asked: Question) -> str:
    return _(
        "{weight:g} g looks like a slip ({kind}): {tag} weighed {last:g} g before. Nothing was "
        "stored. Weigh again, or send it with confirm as true."
    ).format(
        weight=asked.entry.weight_g,
        kind=asked.slip.kind,
        tag=asked.entry.tag,
        last=asked.last_g,
    )


def _by() -> str:
    token = api_token()
    return who() if token is None else _("token {name}").format(name=token.name)


def _json(told: Mapping[str, Any], code: int) -> Response:
    answer = Response(json.dumps(told, ensure_ascii=False), code, mimetype="application/json")
    answer.headers["Cache-Control"] = "no-store"
    return answer
