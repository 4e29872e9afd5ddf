"""Planning a room's humidity: when groups are wanted, using what was proposed, ending it.

None of these moves a setpoint. While a plan is in use its steps are asked for as any setpoint is,
by the plan, so that each is checked and journalled; a setpoint by hand ends it.
"""

from datetime import timedelta
from functools import partial

from hangroom.answers.asked import Applied, Asked, Noted
from hangroom.answers.setpoint import HUMIDITY, with_setpoint
from hangroom.control.stages import plan_of
from hangroom.errors import InputError
from hangroom.store.plans import (
    Ended,
    KeptPlan,
    Wish,
    begin_run,
    end_run,
    forget_wish,
    hangs_in,
    keep_wish,
    newest_plan,
    plan_runs,
)
from hangroom.store.request_body import figure_or_none, whole_or_none
from hangroom.terms import Stage
from hangroom.units import say_duration

# Further ahead than this no group is planned for: no stick hangs so long.
LONGEST_WANTED_S = 60 * 86_400.0


def plan(asked: Asked) -> Applied:
    """Return what becomes of the wish to have a group ready at a moment, or gently dried."""
    group = _group(asked)
    wanted_in_s = figure_or_none(asked.request.body, "wanted_in_s")
    if wanted_in_s is not None and not 0.0 < wanted_in_s <= LONGEST_WANTED_S:
        raise InputError(
            "A group can be wanted from now on up to"
            f" {say_duration(LONGEST_WANTED_S)} ahead. Choose such a moment."
        )
    if plan_of(asked.plan, Stage.HANG).humidity is None:
        raise InputError("Nothing in this room acts on humidity, so it cannot be planned.")
    wanted_at = None if wanted_in_s is None else asked.at.now + timedelta(seconds=wanted_in_s)
    wish = Wish(
        group_number=group,
        room=asked.plan.name,
        wanted_at=wanted_at,
        asked_at=asked.at.now,
        asked_by=asked.request.asked_by,
    )
    return Applied(
        plan=asked.plan,
        keep=partial(keep_wish, wish=wish),
        said="A plan is being worked out; that takes up to a minute.",
        noted=Noted(
            kind="plan-wished",
            figures={"group": group} | ({} if wanted_in_s is None else {"for_s": wanted_in_s}),
        ),
    )


def plan_forget(asked: Asked) -> Applied:
    """Return what becomes of the wish that a group be planned for no more."""
    group = _group(asked)
    return Applied(
        plan=asked.plan,
        keep=partial(forget_wish, group_number=group),
        said="That group is planned for no more; a plan in use takes note of it tomorrow.",
        noted=Noted(kind="plan-forgotten", figures={"group": group}),
    )


def plan_use(asked: Asked) -> Applied:
    """Return what becomes of the wish to follow a proposal: every step must pass the limits now."""
    proposed = newest_plan(asked.db, asked.plan.name)
    number = whole_or_none(asked.request.body, "plan")
    if proposed is None or proposed.number != number or proposed.plan is None:
        raise InputError("That plan is not the newest any more. Look at the newest, then use that.")
    _check_use(asked, proposed)
    return Applied(
        plan=asked.plan,
        keep=partial(
            begin_run,
            room=asked.plan.name,
            number=proposed.number,
            by=asked.request.asked_by,
            now=asked.at.now,
        ),
        said="The plan is in use; its setpoint follows within a minute.",
        noted=Noted(kind="plan-begun", figures={"plan": proposed.number}),
    )


def plan_end(asked: Asked) -> Applied:
    """Return what becomes of the wish to follow the plan no more."""
    run = plan_runs(asked.db).get(asked.plan.name)
    if run is None or run.ended_at is not None:
        raise InputError("This room follows no plan. Nothing was changed.")
    return Applied(
        plan=asked.plan,
        keep=partial(
            end_run,
            room=asked.plan.name,
            why=Ended.ENDED,
            by=asked.request.asked_by,
            now=asked.at.now,
        ),
        said="The plan is ended. The setpoint stays as it is until another is asked for.",
        noted=Noted(kind="plan-ended", figures={"plan": run.plan_number}, words={"why": "ended"}),
    )


def _group(asked: Asked) -> int:
    group = whole_or_none(asked.request.body, "group")
    if group is None:
        raise InputError("It names no group. Ask again with one.")
    if hangs_in(asked.db, group) != asked.plan.name:
        raise InputError("That group does not hang in this room. Look where it hangs by now.")
    return group


def _check_use(asked: Asked, proposed: KeptPlan) -> None:
    if not proposed.holds(asked.at.now):
        raise InputError("That plan is too old: weights and air have moved on. Ask for a new one.")
    if asked.plan.stage is not Stage.HANG:
        raise InputError(
            f"The room is in the stage {asked.plan.stage.in_words}, and a plan is for hanging."
            " Begin that stage first."
        )
    steps = proposed.plan.steps if proposed.plan else ()
    if not steps:
        raise InputError("That plan has no setpoints. There is nothing to use.")
    for step in steps:
        with_setpoint(asked.plan, Stage.HANG, HUMIDITY, step.humidity_pct)
