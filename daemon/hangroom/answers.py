"""The daemon's answers to what the page asks for: checked against the limits, then kept, then done.

A wish is carried out at the next tick or not at all: one that has waited too long (the daemon was
down) is refused, because nobody expects a relay to move any more.
"""

import sqlite3
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from hangroom.store.database import connect
from hangroom.store.requests import Kind, Outcome, Request, answer, open_requests
from hangroom.store.setpoints import keep_setpoint, setpoints
from hangroom.terms import RoomPlan


class Answers:
    """Reads open requests and turns the ones that hold into changed plans.

    Its own connection, with a short patience: a locked database must not hold up a tick.
    """

    def __init__(self, path: Path) -> None:
        self._db: Database = connect(path)
        self._db.execute("pragma busy_timeout = 200")

    def kept(self, plans: Mapping[str, RoomPlan]) -> dict[str, RoomPlan]:
        """Return the plans of the settings file with the setpoints that were asked for later.

        A kept setpoint that the settings' limits no longer allow is passed over.
        """
        changed = dict(plans)
        for (room, what), value in setpoints(self._db).items():
            if what == Kind.HUMIDITY_SETPOINT and room in changed:
                outcome = _with_setpoint(changed[room], value)
                if isinstance(outcome, RoomPlan):
                    changed[room] = outcome
        return changed

    def answered(self, plans: Mapping[str, RoomPlan], now: datetime) -> Mapping[str, RoomPlan]:
        """Answer every open request and return the plans that now hold.

        Where the database cannot be used, the plans stay as they are and the page is answered
        later.
        """
        changed = dict(plans)
        try:
            for request in open_requests(self._db):
                outcome = _judged(request, changed, now)
                if isinstance(outcome, str):
                    answer(self._db, request.number, Outcome.REFUSED, outcome, now=now)
                    continue
                setpoint_pct, plan = outcome
                keep_setpoint(
                    self._db,
                    room=request.room,
                    what=request.kind,
                    value=setpoint_pct,
                    set_by=request.asked_by,
                    now=now,
                )
                changed[request.room] = plan
                said = f"Setpoint is {setpoint_pct:g} %."
                answer(self._db, request.number, Outcome.APPLIED, said, now=now)
        except sqlite3.Error:
            return changed
        return changed

    def close(self) -> None:
        """Let go of the file."""
        self._db.close()


def _judged(
    request: Request, plans: Mapping[str, RoomPlan], now: datetime
) -> tuple[float, RoomPlan] | str:
    if now >= request.expires_at:
        return "It waited too long, because the controller was not running. Ask again."
    if request.kind != Kind.HUMIDITY_SETPOINT:
        return f"This controller does not know how to do {request.kind!r}."
    setpoint_pct = _setpoint_pct(request.body)
    if setpoint_pct is None:
        return "It names no setpoint as a number. Ask again with one."
    if request.room not in plans:
        return f"There is no room {request.room!r} in the settings."
    outcome = _with_setpoint(plans[request.room], setpoint_pct)
    return outcome if isinstance(outcome, str) else (setpoint_pct, outcome)


def _setpoint_pct(body: object) -> float | None:
    # The body is another process's JSON: whatever stands there must not end the loop.
    match body:
        case {"value": int() | float() as value}:
            return float(value)
        case _:
            return None


def _with_setpoint(plan: RoomPlan, setpoint_pct: float) -> RoomPlan | str:
    if plan.humidity is None:
        return "Nothing in this room acts on humidity."
    wanted = replace(plan.humidity, setpoint_pct=setpoint_pct)
    fault = wanted.fault()
    if fault:
        return f"{setpoint_pct:g} % is too near a limit: {fault}. Choose another setpoint."
    return replace(plan, humidity=wanted)
