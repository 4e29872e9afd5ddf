"""A room's stages: what each lets its relays do, how one begins, and how one ends by itself.

One room is in one stage at a time. Its time is counted on the monotonic clock, so that a jump of
the wall clock can neither end a stage nor stretch it.
"""

from dataclasses import replace
from math import isfinite

from hangroom.stage_table import AIRS_ALL_THE_TIME, FANS
from hangroom.terms import LONGEST_STAGE_H, RoomPlan, Stage, StagePlan, StageRun

LONGEST_STAGE_S = 3600 * LONGEST_STAGE_H


def plan_of(plan: RoomPlan, stage: Stage) -> StagePlan:
    """Return what a stage asks of the room: its own plan, or else what is asked at the moment."""
    own = plan.stages.get(stage)
    return own or StagePlan(humidity=plan.humidity, temperature=plan.temperature)


def with_plan_of(plan: RoomPlan, stage: Stage, wanted: StagePlan) -> RoomPlan:
    """Return the room's plan with one stage asking for something else, at once if it is on."""
    changed = replace(plan, stages={**plan.stages, stage: wanted})
    return in_stage(changed, stage, plan.stage_run) if stage is plan.stage else changed


def in_stage(plan: RoomPlan, stage: Stage, run: StageRun | None) -> RoomPlan:
    """Return the plan with a stage under way since whenever its run says."""
    wanted = plan_of(plan, stage)
    return replace(
        plan,
        stage=stage,
        stage_run=run,
        humidity=wanted.humidity,
        temperature=wanted.temperature,
    )


def begun(
    plan: RoomPlan,
    stage: Stage,
    *,
    for_s: float | None,
    then: Stage | None,
    by: str,
    batch: int | None,
    uptime_s: float,
) -> RoomPlan | str:
    """Return the plan with a stage begun in place of the one under way, or what speaks against it.

    `for_s` None: until a person ends it. `then` None: what the stage's plan names, or hang.
    """
    if for_s is not None and not (isfinite(for_s) and 0 < for_s <= LONGEST_STAGE_S):
        return f"A stage lasts more than 0 and at most {LONGEST_STAGE_S / 86_400:g} days."
    if stage in AIRS_ALL_THE_TIME:
        if not FANS & plan.relays.keys():
            return (
                f"Nothing in this room moves air, and {stage.in_words} is nothing but moving air."
            )
        if for_s is None:
            named = stage.in_words.capitalize()
            return f"{named} dries the sticks without a pause, so it needs an end. Give it a time."
    return _started(
        plan, stage, since_uptime_s=uptime_s, for_s=for_s, then=then, by=by, batch=batch
    )


def ended(plan: RoomPlan, *, uptime_s: float) -> tuple[RoomPlan, Stage] | None:
    """Return the plan with the next stage begun, and the one whose time is over; or None.

    The next stage counts from the moment the last one ended, however late that is noticed.
    """
    run = plan.stage_run
    if run is None or run.ends_uptime_s is None or uptime_s < run.ends_uptime_s:
        return None
    follows = run.then or Stage.HANG
    planned = plan_of(plan, follows)
    started = _started(
        plan,
        follows,
        since_uptime_s=run.ends_uptime_s,
        for_s=planned.for_s,
        then=planned.then,
        by=run.by,
        batch=run.batch,
    )
    return started, plan.stage


def _started(
    plan: RoomPlan,
    stage: Stage,
    *,
    since_uptime_s: float,
    for_s: float | None,
    then: Stage | None,
    by: str,
    batch: int | None,
) -> RoomPlan:
    run = StageRun(
        since_uptime_s=since_uptime_s,
        ends_uptime_s=None if for_s is None else since_uptime_s + for_s,
        then=None if for_s is None else then or plan_of(plan, stage).then or Stage.HANG,
        by=by,
        batch=batch,
    )
    return in_stage(plan, stage, run)
