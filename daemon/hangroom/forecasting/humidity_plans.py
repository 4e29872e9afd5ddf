"""The plan desk: works out plans that were asked for, has a plan in use followed, renews it daily.

A plan moves no setpoint itself: each of its steps is asked for as the page asks, by the plan, and
the loop checks it against the limits and journals it. It ends when somebody sets the humidity by
hand or ends it, when its groups are there or gone, or when a step is refused.
"""

import sys
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path

from sqlite_utils import Database

from hangroom.errors import HangroomError, InputError
from hangroom.forecasting.child import Child
from hangroom.forecasting.child_desk import ChildDesk
from hangroom.forecasting.question import prepared
from hangroom.forecasting.room_wanted import (
    HangingGroup,
    hang_target,
    in_setpoints,
    kept_off_pct,
    moved,
    setpoint_limits,
    wanted_of,
)
from hangroom.product.humidity_plan import HumidityPlan
from hangroom.store.batches import hanging_batches
from hangroom.store.database import durably
from hangroom.store.forecasts import known_of
from hangroom.store.learned import learned
from hangroom.store.moments import to_ms
from hangroom.store.plan_form import plan_from_json, wanted_as_json
from hangroom.store.plans import (
    Ended,
    PlanCause,
    PlanRun,
    end_run,
    follow_newer,
    keep_plan,
    newest_plan,
    plan_by_number,
    plan_runs,
    wishes,
)
from hangroom.store.record.whole import batch_record
from hangroom.store.requests import Kind, Outcome, ask, request_by_number
from hangroom.store.room_plans import newest_plans
from hangroom.terms import RoomPlan, Stage

COMMAND = (sys.executable, "-m", "hangroom", "plan-child")
# Some thirty forecasts of two groups; minutes on the slowest of Pis. Our judgement.
WITHIN_S = 300.0
RENEWED_EVERY = timedelta(hours=24)
AGAIN_AFTER = timedelta(hours=1)
# Who asks for the setpoints of a plan in use.
THE_PLAN = "plan"
SAME_PCT = 0.005


class HumidityPlans(ChildDesk):
    """Makes and follows plans; `look` is called every few seconds, `stop` at the end."""

    def __init__(
        self,
        path: Path,
        *,
        scale_sd_g: float,
        now: Callable[[], datetime],
        live: Callable[[], bool] = lambda: True,
        child: Child | None = None,
    ) -> None:
        child = child or Child(COMMAND, within_s=WITHIN_S)
        super().__init__(path, scale_sd_g=scale_sd_g, now=now, live=live, child=child)

    def look(self) -> None:
        """Follow every plan in use, and work out what is due."""
        self._in_turn(self._look)

    def _look(self, db: Database) -> None:
        for room, plan in newest_plans(db).items():
            self._look_at(db, room, plan)

    def _look_at(self, db: Database, room: str, plan: RoomPlan) -> None:
        run = plan_runs(db).get(room)
        in_use = run if run is not None and run.ended_at is None else None
        wanted = [wish for wish in wishes(db).values() if wish.room == room]
        if in_use is not None and not wanted:
            self._end(db, room, Ended.DONE)
            in_use = None
        if in_use is not None:
            self._follow(db, plan, in_use)
        now, newest = self._now(), newest_plan(db, room)
        if wanted and (newest is None or max(wish.asked_at for wish in wanted) > newest.made_at):
            self._make(db, room, plan, PlanCause.ASKED)
        elif in_use is not None:
            kept = plan_by_number(db, in_use.plan_number)
            stale = kept is None or now - kept.made_at >= RENEWED_EVERY
            tried = newest is not None and now - newest.made_at < AGAIN_AFTER
            if stale and not tried:
                self._make(db, room, plan, PlanCause.DAILY)

    def _follow(self, db: Database, plan: RoomPlan, run: PlanRun) -> None:
        """Ask for the setpoint that the plan wants by now, where it is another."""
        now, target = self._now(), hang_target(plan)
        kept = plan_by_number(db, run.plan_number)
        wanted_pct = kept.setpoint_pct(now) if kept is not None else None
        if kept is None or wanted_pct is None or target is None or plan.stage is not Stage.HANG:
            return
        if abs(wanted_pct - target.setpoint_pct) <= SAME_PCT:
            return
        # One wish for each step, however often it is looked at: the room's plan is noted late.
        number = ask(
            db,
            key=f"plan {kept.number} {to_ms(run.begun_at)} {wanted_pct:g}",
            kind=Kind.HUMIDITY_SETPOINT,
            room=run.room,
            body={"value": wanted_pct, "plan": float(kept.number)},
            asked_by=THE_PLAN,
            now=now,
        )
        told = request_by_number(db, number)
        if told is not None and told.outcome is Outcome.REFUSED:
            self._end(db, run.room, Ended.REFUSED, by=told.answer or THE_PLAN)

    def _end(self, db: Database, room: str, why: Ended, *, by: str = THE_PLAN) -> None:
        with durably(db):
            end_run(db, room=room, why=why, by=by, now=self._now())

    def _make(self, db: Database, room: str, plan: RoomPlan, cause: PlanCause) -> None:
        now = self._now()
        found, error = None, ""
        groups: list[HangingGroup] = []
        try:
            groups = list(self._groups(db, room, now))
            found = self._asked(plan, groups, now)
        except HangroomError as fault:
            if self._stopping:
                return
            error = str(fault)
        with durably(db):
            number = keep_plan(
                db,
                room=room,
                made_at=now,
                cause=cause,
                plan=found,
                hung_at={each.name: each.about.hung_at for each in groups},
                error=error,
            )
            if cause is PlanCause.DAILY and found is not None:
                if found.steps:
                    follow_newer(db, room=room, number=number)
                else:
                    end_run(db, room=room, why=Ended.DONE, by=THE_PLAN, now=now)

    def _asked(self, plan: RoomPlan, groups: list[HangingGroup], now: datetime) -> HumidityPlan:
        target = hang_target(plan)
        if target is None:
            raise InputError("Nothing in this room acts on humidity, so it cannot be planned.")
        limits, off_pct = setpoint_limits(target), kept_off_pct(plan, target, groups)
        question = wanted_as_json(wanted_of(groups, now=now), moved(limits, off_pct))
        return in_setpoints(plan_from_json(self._child.hear(question)), limits, off_pct)

    def _groups(self, db: Database, room: str, now: datetime) -> Iterator[HangingGroup]:
        """Yield every group that hangs in a room to dry, with its wish where it has one."""
        wanted, plans = wishes(db), newest_plans(db)
        known = {subject: one.beliefs for subject, one in learned(db).items()}
        there = [
            (batch.number, group.letter)
            for batch in hanging_batches(db)
            for group in batch.groups
            if group.room == room
        ]
        letters = [letter for _, letter in there]
        for number, letter in sorted(there):
            record = batch_record(db, number)
            if record is None:
                continue
            group = next(each for each in record.batch.groups if each.letter == letter)
            about = prepared(
                db,
                record,
                group,
                plans=plans,
                learned=known,
                earlier=known_of(db, [group.number])[group.number].kept,
                scale_sd_g=self._scale_sd_g,
                now=now,
            )
            if about is not None:
                alone = letters.count(letter) == 1
                name = f"group {letter}" if alone else f"group {letter} of batch {number}"
                yield HangingGroup(name=name, about=about, wish=wanted.get(group.number))
