"""Check the sensors and relays: each reading with its age, each relay tried for a few seconds."""

from dataclasses import dataclass, replace

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from hangroom.errors import InputError, StoreError
from hangroom.store.proofs import Proof, proofs
from hangroom.store.requests import Kind
from hangroom_web.gather import room_status
from hangroom_web.pages.login import setting, who
from hangroom_web.pages.room import live_parts
from hangroom_web.proving import RelayProof, relay_proof
from hangroom_web.rooms import RoomNow
from hangroom_web.sensors import say_wired
from hangroom_web.site import records, site
from hangroom_web.wanted import Body, relay_body
from hangroom_web.wishes import wish
from hangroom_web.words import _

proving_pages = Blueprint("proving", __name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomToCheck:
    """A room with its live card, where its sensors belong, its relays, and what was answered."""

    now: RoomNow
    wired: str
    relays: list[RelayProof]
    told: str


@proving_pages.get("/setup/check")
def proving() -> str:
    """Show every sensor and relay with what is known of it, and the way to try each relay."""
    status, here = room_status(), site()
    known = _known()
    rooms = [
        RoomToCheck(
            # What was answered stands where it was asked, not on the card.
            now=replace(room, asked=None),
            wired=say_wired(here.settings.room[room.name].sensor),
            relays=[
                relay_proof(
                    here.settings.room[room.name],
                    room,
                    relay,
                    known,
                    zone=here.zone,
                    now=here.now(),
                )
                for relay in room.relays
            ],
            told=room.asked or "",
        )
        for room in status.rooms
    ]
    parts = {**live_parts(status), "asked": None}
    return render_template("proving.html", **parts, rooms=rooms)


@proving_pages.post("/setup/check/<room>/try")
@setting
def try_relay(room: str) -> Response:
    """Ask for a few seconds of a relay."""
    return _asked(room, Kind.RELAY_TRY, relay_body(request.form))


@proving_pages.post("/setup/check/<room>/saw")
@setting
def say_what_ran(room: str) -> Response:
    """Say what was seen of the newest trial of a relay."""
    saw = request.form.get("saw", "")
    if saw not in {"yes", "no"}:
        raise InputError(_("Say yes or no. Nothing was kept."))
    body: Body = {**relay_body(request.form), "seen": saw == "yes"}
    return _asked(room, Kind.RELAY_PROOF, body)


def _asked(room: str, kind: Kind, body: Body) -> Response:
    if room not in site().settings.room:
        abort(404)
    number = wish(kind, room, body, asked_by=who())
    return redirect(url_for("proving.proving", asked=number, _anchor=f"relays-{room}"), 303)


def _known() -> list[Proof]:
    try:
        with records() as db:
            return proofs(db)
    except StoreError:
        return []  # the status already carries it as a trouble
