"""Humidity plans: when groups are wanted, what was proposed, which proposal a room follows.

The daemon's tables plan_wish, plan and plan_run. What changes something here belongs to the
caller's transaction.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from pydantic import TypeAdapter
from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.humidity_plan import HumidityPlan
from hangroom.store.forecast_form import VERSION, read, written
from hangroom.store.moments import from_ms, to_ms

# A proposal older than this was made from weights and air that no longer hold. Our own judgement.
USED_WITHIN = timedelta(hours=12)


class Ended(StrEnum):
    """Why a room stopped following a plan."""

    BY_HAND = "by-hand"
    ENDED = "ended"
    DONE = "done"
    REFUSED = "refused"


class PlanCause(StrEnum):
    """What made the daemon plan."""

    ASKED = "asked"
    DAILY = "daily"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """When somebody wants a hanging group ready; `wanted_at` None: soon, but gently dried."""

    group_number: int
    room: str
    wanted_at: datetime | None
    asked_at: datetime
    asked_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPlan:
    """A proposal: its steps count from `made_at`, in setpoints of the room.

    `plan` None: there is none, and `error` says why. `hung_at`: by the group's name in the plan,
    the moment from which its own hours count.
    """

    number: int
    room: str
    made_at: datetime
    cause: PlanCause
    plan: HumidityPlan | None = None
    hung_at: Mapping[str, datetime]
    error: str = ""

    def holds(self, now: datetime) -> bool:
        """Return whether the weights and the air that it was made from still stand for the room."""
        return now - self.made_at <= USED_WITHIN

    def setpoint_pct(self, at: datetime) -> float | None:
        """Return the humidity it wants at a moment, %RH, None before it was made or without any."""
        gone_h = (at - self.made_at) / timedelta(hours=1)
        steps = self.plan.steps if self.plan else ()
        found = [step.humidity_pct for step in steps if step.after_h <= gone_h]
        return found[-1] if found else None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRun:
    """The plan that a room follows, or the last that it followed; `ended_at` None while it does."""

    room: str
    plan_number: int
    begun_at: datetime
    begun_by: str
    ended_at: datetime | None
    ended_by: str
    ended_why: Ended | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Body:
    version: int
    plan: HumidityPlan
    hung_ms: dict[str, int]


_FORM = TypeAdapter(_Body)


def keep_wish(db: Database, wish: Wish) -> None:
    """Store when a group is wanted; a newer wish takes an older one's place."""
    db.execute(
        "insert or replace into plan_wish values (?, ?, ?, ?, ?)",
        (
            wish.group_number,
            wish.room,
            None if wish.wanted_at is None else to_ms(wish.wanted_at),
            to_ms(wish.asked_at),
            wish.asked_by,
        ),
    )


def forget_wish(db: Database, group_number: int) -> None:
    """Forget when a group was wanted."""
    db.execute("delete from plan_wish where group_id = ?", (group_number,))


def wishes(db: Database) -> dict[int, Wish]:
    """Return every wish of a group that hangs in the room it was asked for in, by its number."""
    rows = db.execute(
        "select plan_wish.group_id, plan_wish.room, wanted_ms, asked_ms, asked_by from plan_wish"
        " join hang on hang.group_id = plan_wish.group_id and hang.room = plan_wish.room"
        " where to_ms is null and struck_ms is null"
    )
    return {
        number: Wish(
            group_number=number,
            room=room,
            wanted_at=None if wanted_ms is None else from_ms(wanted_ms),
            asked_at=from_ms(asked_ms),
            asked_by=asked_by,
        )
        for number, room, wanted_ms, asked_ms, asked_by in rows
    }


def hangs_in(db: Database, group_number: int) -> str | None:
    """Return the room that a group hangs in, None where it hangs nowhere."""
    found = db.execute(
        "select room from hang where group_id = ? and to_ms is null and struck_ms is null",
        (group_number,),
    ).fetchone()
    return found[0] if found else None


def keep_plan(
    db: Database,
    *,
    room: str,
    made_at: datetime,
    cause: PlanCause,
    plan: HumidityPlan | None,
    hung_at: Mapping[str, datetime],
    error: str = "",
) -> int:
    """Store a proposal, or why there is none, and return its number; older ones are dropped.

    One that a room follows or followed last stays.
    """
    body = None
    if plan is not None:
        moments = {name: to_ms(at) for name, at in hung_at.items()}
        body = written(_FORM, _Body(version=VERSION, plan=plan, hung_ms=moments))
    db.execute(
        "delete from plan where room = ? and id not in (select plan_id from plan_run)", (room,)
    )
    (number,) = db.execute(
        "insert into plan (room, made_ms, cause, body, error) values (?, ?, ?, ?, ?) returning id",
        (room, to_ms(made_at), str(cause), body, error),
    ).fetchone()
    return int(number)


def plan_by_number(db: Database, number: int) -> KeptPlan | None:
    """Return one proposal, None where there is none or another version wrote it."""
    return _plan(db, "where id = ?", number)


def newest_plan(db: Database, room: str) -> KeptPlan | None:
    """Return a room's newest proposal or failure, None where there is none that can be read."""
    return _plan(db, "where room = ? order by id desc limit 1", room)


def begin_run(db: Database, *, room: str, number: int, by: str, now: datetime) -> None:
    """Let a room follow a proposal from now on."""
    db.execute(
        "insert or replace into plan_run (room, plan_id, begun_ms, begun_by) values (?, ?, ?, ?)",
        (room, number, to_ms(now), by),
    )


def follow_newer(db: Database, *, room: str, number: int) -> None:
    """Let a room that follows a plan follow the one that was worked out anew."""
    db.execute(
        "update plan_run set plan_id = ? where room = ? and ended_ms is null", (number, room)
    )


def end_run(db: Database, *, room: str, why: Ended, by: str, now: datetime) -> None:
    """Let a room follow its plan no more; nothing happens where it follows none."""
    db.execute(
        "update plan_run set ended_ms = ?, ended_by = ?, ended_why = ?"
        " where room = ? and ended_ms is null",
        (to_ms(now), by, str(why), room),
    )


def plan_runs(db: Database) -> dict[str, PlanRun]:
    """Return by room the plan that it follows, or that it followed last."""
    rows = db.execute(
        "select room, plan_id, begun_ms, begun_by, ended_ms, ended_by, ended_why from plan_run"
    )
    return {
        room: PlanRun(
            room=room,
            plan_number=number,
            begun_at=from_ms(begun_ms),
            begun_by=begun_by,
            ended_at=None if ended_ms is None else from_ms(ended_ms),
            ended_by=ended_by,
            ended_why=Ended(why) if why else None,
        )
        for room, number, begun_ms, begun_by, ended_ms, ended_by, why in rows
    }


def _plan(db: Database, tail: str, value: object) -> KeptPlan | None:
    columns = "id, room, made_ms, cause, body, error"
    sql = f"select {columns} from plan {tail}"  # noqa: S608 - both are this file's own text
    row = db.execute(sql, (value,)).fetchone()
    if row is None:
        return None
    number, room, made_ms, cause, text, error = row
    plan, moments = None, dict[str, int]()
    if text is not None:
        try:
            body = read(_FORM, text, what="stored plan")
        except InputError:
            return None  # written by another version: as good as absent
        plan, moments = body.plan, body.hung_ms
    return KeptPlan(
        number=number,
        room=room,
        made_at=from_ms(made_ms),
        cause=PlanCause(cause),
        plan=plan,
        hung_at={name: from_ms(ms) for name, ms in moments.items()},
        error=error,
    )
