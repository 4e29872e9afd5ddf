"""`/healthz`: one question for machines that watch this one."""

from flask import Blueprint, Response, jsonify

from hangroom_web.gather import room_status
from hangroom_web.session import may_look
from hangroom_web.words import _

health = Blueprint("health", __name__)


@health.get("/healthz")
def healthz() -> tuple[Response, int]:
    """Answer 200 while the daemon reports and every room's reading is fresh, else 503 with why.

    Where looking asks for a log-in, whoever gave none is not told why.
    """
    status = room_status()
    reasons = [] if status.alive else [_("The controller program does not report.")]
    reasons += [
        f"{room.title}: {room.reading.said}"
        for room in status.rooms
        if not room.reading.freshness.shows_digits
    ]
    told = {"fresh": not reasons} | ({"reasons": reasons} if may_look() else {})
    return jsonify(told), 503 if reasons else 200
