"""A humidity setpoint beside a plan in use: asked for by it, or by somebody, which ends it."""

from dataclasses import replace

from sqlite_utils import Database

from hangroom.answers.asked import Applied, Asked
from hangroom.errors import InputError
from hangroom.store.plans import Ended, end_run, plan_runs
from hangroom.store.request_body import whole_or_none
from hangroom.terms import Stage


def beside_plan(asked: Asked, applied: Applied) -> Applied:
    """Return what becomes of a humidity setpoint: one by hand ends the plan that the room follows.

    Raises InputError where a plan asks for it that is not in use, or outside its stage.
    """
    run = plan_runs(asked.db).get(asked.plan.name)
    in_use = run.plan_number if run is not None and run.ended_at is None else None
    number = whole_or_none(asked.request.body, "plan")
    if number is not None:
        if number != in_use:
            raise InputError("The plan that asks for this is not in use any more.")
        if asked.plan.stage is not Stage.HANG:
            raise InputError("A plan moves the setpoint of hanging, and the room is not in that.")
        return applied
    if in_use is None or asked.plan.stage is not Stage.HANG:
        return applied

    def keep(db: Database) -> None:
        applied.keep(db)
        by, now = asked.request.asked_by, asked.at.now
        end_run(db, room=asked.plan.name, why=Ended.BY_HAND, by=by, now=now)

    return replace(applied, keep=keep, said=f"{applied.said} That ended the plan.")
