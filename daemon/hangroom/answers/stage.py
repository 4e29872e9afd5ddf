"""Beginning a stage in a room."""

from functools import partial

from hangroom.answers.asked import Applied, Asked, Noted
from hangroom.control.stages import begun
from hangroom.errors import InputError
from hangroom.store.request_body import choice, choice_or_none, figure_or_none, whole_or_none
from hangroom.store.stage_runs import keep_stage_run
from hangroom.terms import Stage
from hangroom.units import say_duration


def stage(asked: Asked) -> Applied:
    """Return what becomes of the wish for another stage, or for the same one from its start."""
    body = asked.request.body
    for_s = figure_or_none(body, "for_s")
    plan = begun(
        asked.plan,
        choice(body, "stage", Stage),
        for_s=for_s,
        then=choice_or_none(body, "then", Stage),
        by=asked.request.asked_by,
        batch=whole_or_none(body, "batch"),
        uptime_s=asked.at.uptime_s,
    )
    if isinstance(plan, str):
        raise InputError(plan)
    lasts = "until another is begun" if for_s is None else f"for {say_duration(for_s)}"
    return Applied(
        plan=plan,
        keep=partial(keep_stage_run, plan=plan, at=asked.at),
        said=f"Stage is {plan.stage.in_words}, {lasts}.",
        noted=Noted(
            kind="stage-begun",
            figures={} if for_s is None else {"for_s": for_s},
            words={"stage": plan.stage, "before": asked.plan.stage},
        ),
    )
