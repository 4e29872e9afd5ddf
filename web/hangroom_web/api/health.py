"""`/healthz`: one question for machines that watch this one."""

from flask import Blueprint, Response, jsonify

from hangroom_web.gather import room_status
from hangroom_web.words import _

health = Blueprint("health", __name__)


@health.get("/healthz")
def healthz() -> tuple[Response, int]:
    """Answer 200 while the daemon reports and every room's reading is fresh, else 503 with why."""
    status = room_status()
    reasons = [] if status.alive else [_("The controller program does not report.")]
    reasons += [
        f"{room.title}: {room.reading.said}"
        for room in status.rooms
        if not room.reading.freshness.shows_digits
    ]
    return jsonify(fresh=not reasons, reasons=reasons), 503 if reasons else 200
