"""The plan that each room follows by now, since when, and whether anything has changed at all."""

from dataclasses import dataclass
from datetime import datetime

from pydantic import ValidationError
from sqlite_utils import Database

from hangroom.store.journal import PLAN_FORM
from hangroom.store.moments import from_ms
from hangroom.terms import RoomPlan, Stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """When a room's stage was begun and its setpoints were moved, and what follows it.

    `changed_at`: the newer of the two, None where neither was ever asked for. `ends_at`, `then`:
    None for no end.
    """

    changed_at: datetime | None
    ends_at: datetime | None
    then: Stage | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Counters that move on when something is entered, corrected, hung, moved, pulled or begun."""

    weigh_ins: int
    edits: int
    stays: int
    open_stays: int
    plans: int


def newest_plans(db: Database) -> dict[str, RoomPlan]:
    """Return the newest noted plan of every room; what an older program wrote otherwise is none.

    Its monotonic seconds may be of an earlier boot.
    """
    rows = db.execute(
        "select room.name, plan from room_plan join room on room.id = room_id"
        " where room_plan.id in (select max(id) from room_plan group by room_id)"
    )
    found = {}
    for room, text in rows:
        try:
            found[room] = PLAN_FORM.validate_json(text)
        except ValidationError:
            continue
    return found


def course_of(db: Database, room: str, stage: Stage) -> Course:
    """Return how a room has been in its stage, in wall time."""
    run = db.execute(
        "select since_ms, since_ms + lasts_ms, then_stage from stage_run"
        " where room = ? and stage = ?",
        (room, str(stage)),
    ).fetchone()
    begun_ms, ends_ms, then = run or (None, None, None)
    (moved_ms,) = db.execute(
        "select max(since_ms) from setpoint where room = ? and stage = ?", (room, str(stage))
    ).fetchone()
    changed = [from_ms(ms) for ms in (begun_ms, moved_ms) if ms is not None]
    return Course(
        changed_at=max(changed, default=None),
        ends_at=None if ends_ms is None else from_ms(ends_ms),
        then=None if then is None else Stage(then),
    )


def marks(db: Database) -> Marks:
    """Return where the counters stand; a glance that costs next to nothing."""
    row = db.execute(
        "select (select coalesce(max(id), 0) from weigh_in),"
        " (select coalesce(max(id), 0) from edit),"
        " (select coalesce(max(id), 0) from hang),"
        " (select count(*) from hang where to_ms is null),"
        " (select coalesce(max(id), 0) from room_plan)"
    ).fetchone()
    weigh_ins, edits, stays, open_stays, plans = row
    return Marks(weigh_ins=weigh_ins, edits=edits, stays=stays, open_stays=open_stays, plans=plans)
