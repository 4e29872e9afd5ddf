"""What ends by itself: stages and overrides whose time is over."""

from collections.abc import Callable
from functools import partial

from sqlite_utils import Database

from hangroom.answers.asked import Noted
from hangroom.answers.override import without_override
from hangroom.control.overrides import in_force
from hangroom.control.stages import ended
from hangroom.store.began import Instant
from hangroom.store.overrides import forget_override
from hangroom.store.stage_runs import keep_stage_run
from hangroom.terms import RoomPlan

Ended = tuple[RoomPlan, list[Noted], list[Callable[[Database], None]]]


def without_what_is_over(plan: RoomPlan, at: Instant) -> Ended:
    """Return the plan that holds now, what ended for the journal, and what is to be kept of it."""
    noted: list[Noted] = []
    keeps: list[Callable[[Database], None]] = []
    while (outcome := ended(plan, uptime_s=at.uptime_s)) is not None:
        plan, before = outcome
        noted.append(Noted(kind="stage-ended", words={"stage": before, "next": plan.stage}))
        keeps.append(partial(keep_stage_run, plan=plan, at=at))
    for relay, override in plan.overrides.items():
        if in_force(override, uptime_s=at.uptime_s) is None:
            plan = without_override(plan, relay)
            noted.append(
                Noted(kind="override-ended", words={"relay": relay, "asked_by": override.by})
            )
            keeps.append(partial(forget_override, room=plan.name, relay=relay))
    return plan, noted, keeps
