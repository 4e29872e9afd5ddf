"""Wishes from the page and the daemon's answers: one row each, asked, then answered in place."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any

from sqlite_utils import Database

from hangroom.store.database import durably
from hangroom.store.moments import from_ms, to_ms

# A wish the daemon could not look at in this time is not carried out later, when nobody expects
# a relay to move any more.
EXPIRES_AFTER = timedelta(seconds=60)


# What one entry of a body can be.
Word = str | float | bool | None


class Kind(StrEnum):
    """What can be asked for; the page writes these words, the daemon reads them.

    Beside each, the entries of its body; times are seconds from when the daemon answers.
    """

    HUMIDITY_SETPOINT = "humidity-setpoint"  # value; plan, where a plan in use asks for it
    TEMPERATURE_SETPOINT = "temperature-setpoint"  # value
    STAGE = "stage"  # stage; for_s or null (no end), then or null, batch or null
    OVERRIDE = "override"  # relay, closed, for_s, why
    OVERRIDE_END = "override-end"  # relay
    LOCKOUTS_LIFT = "lockouts-lift"
    CALIBRATION = "calibration"  # sensor, salt, read_pct, temperature_c
    CALIBRATION_FORGET = "calibration-forget"  # sensor
    PLAN = "plan"  # group (its number in the store), wanted_in_s or null (as soon as gently dried)
    PLAN_FORGET = "plan-forget"  # group
    PLAN_USE = "plan-use"  # plan
    PLAN_END = "plan-end"
    RELAY_TRY = "relay-try"  # relay
    RELAY_PROOF = "relay-proof"  # relay, seen (whether the right thing ran in the newest trial)
    REMINDER_SNOOZE = "reminder-snooze"  # for_s; with an empty room, of all that is asked for
    INSPECTION_BEGIN = "inspection-begin"  # for_s
    INSPECTION_END = "inspection-end"
    # These name one alarm of the room; with an empty room, of the body's `scope` as well, which is
    # that of the live board: the service, a batch or a group.
    ALARM_ACKNOWLEDGE = "alarm-acknowledge"  # alarm
    ALARM_RESET = "alarm-reset"  # alarm
    ALARM_SHELVE = "alarm-shelve"  # alarm, for_s, why
    ALARM_UNSHELVE = "alarm-unshelve"  # alarm
    ALARM_OUT_OF_SERVICE = "alarm-out-of-service"  # alarm, why
    ALARM_INTO_SERVICE = "alarm-into-service"  # alarm


class Outcome(StrEnum):
    """What the daemon made of a request."""

    APPLIED = "applied"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """One wish. `body` is what the kind needs, for example {"value": 78.0}.

    `room` is empty where the wish concerns no single room.
    """

    number: int
    asked_at: datetime
    expires_at: datetime
    asked_by: str
    kind: str
    room: str
    body: Mapping[str, Any]
    outcome: Outcome | None
    answer: str | None


def ask(
    db: Database,
    *,
    key: str,
    kind: str,
    room: str,
    body: Mapping[str, Word],
    asked_by: str,
    now: datetime,
) -> int:
    """Store a wish and return its number; the same `key` twice is one wish."""
    with durably(db):
        db.execute(
            "insert or ignore into request (key, asked_ms, expires_ms, asked_by, kind, room, body)"
            " values (?, ?, ?, ?, ?, ?, ?)",
            (
                key,
                to_ms(now),
                to_ms(now + EXPIRES_AFTER),
                asked_by,
                kind,
                room,
                json.dumps(dict(body)),
            ),
        )
    return int(db.execute("select id from request where key = ?", (key,)).fetchone()[0])


def open_requests(db: Database) -> list[Request]:
    """Return the wishes that wait for an answer, oldest first."""
    return [_request(row) for row in _rows(db, "where answered_ms is null order by id")]


def request_by_number(db: Database, number: int) -> Request | None:
    """Return one wish, answered or not."""
    found = [_request(row) for row in _rows(db, "where id = ?", number)]
    return found[0] if found else None


def newest_request(db: Database, room: str, kind: str) -> Request | None:
    """Return the wish of a kind that was last asked for a room, answered or not."""
    tail = "where room = ? and kind = ? order by id desc limit 1"
    found = [_request(row) for row in _rows(db, tail, room, kind)]
    return found[0] if found else None


def answer(db: Database, number: int, outcome: Outcome, why: str, *, now: datetime) -> None:
    """Store the daemon's answer."""
    db.execute(
        "update request set answered_ms = ?, outcome = ?, answer = ? where id = ?",
        (to_ms(now), str(outcome), why, number),
    )


_COLUMNS = "id, asked_ms, expires_ms, asked_by, kind, room, body, outcome, answer"
type_row = tuple[int, int, int, str, str, str, str, str | None, str | None]


def _rows(db: Database, tail: str, *values: object) -> list[type_row]:
    sql = f"select {_COLUMNS} from request {tail}"  # noqa: S608 - both are this file's own text
    return list(db.execute(sql, values))


def _request(row: type_row) -> Request:
    number, asked_ms, expires_ms, asked_by, kind, room, body, outcome, said = row
    return Request(
        number=number,
        asked_at=from_ms(asked_ms),
        expires_at=from_ms(expires_ms),
        asked_by=asked_by,
        kind=kind,
        room=room,
        body=_body(body),
        outcome=Outcome(outcome) if outcome else None,
        answer=said,
    )


def _body(text: str) -> Any:  # noqa: ANN401 - whatever JSON can hold
    # A whole number of thousands of digits, or lists in lists without end, are JSON too.
    try:
        return json.loads(text, parse_int=float)
    except (ValueError, RecursionError):
        return {}
