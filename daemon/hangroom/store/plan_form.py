"""What is wanted of a room's groups, and the plan for it, as JSON between the daemon and its child.

As strict as `forecast_form`: what does not read back as what was written is refused.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import TypeAdapter

from hangroom.errors import InputError
from hangroom.product.humidity_plan import GroupWanted, HumidityPlan, SetpointLimits
from hangroom.store.forecast_form import VERSION, read, written


@dataclass(frozen=True, slots=True, kw_only=True)
class RoomWanted:
    """What the child is asked: a room's groups, and between which setpoints it may plan."""

    version: int
    groups: tuple[GroupWanted, ...]
    limits: SetpointLimits


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answered:
    version: int
    plan: HumidityPlan | None = None
    fault: str = ""


_WANTED = TypeAdapter(RoomWanted)
_ANSWERED = TypeAdapter(_Answered)


def wanted_as_json(groups: Sequence[GroupWanted], limits: SetpointLimits) -> str:
    """Return what is wanted as the child reads it."""
    wanted = RoomWanted(version=VERSION, groups=tuple(groups), limits=limits)
    return written(_WANTED, wanted)


def wanted_from_json(text: str | bytes) -> RoomWanted:
    """Return what the daemon wrote; InputError for what is none."""
    return read(_WANTED, text, what="wish for a plan")


def plan_answered_as_json(answer: HumidityPlan | str) -> str:
    """Return a plan, or why there is none, as the daemon reads it."""
    told = (
        _Answered(version=VERSION, fault=answer)
        if isinstance(answer, str)
        else _Answered(version=VERSION, plan=answer)
    )
    return written(_ANSWERED, told)


def plan_from_json(text: str | bytes) -> HumidityPlan:
    """Return the plan that the child wrote; InputError with its reason where it has none."""
    told = read(_ANSWERED, text, what="plan")
    if told.plan is None:
        raise InputError(told.fault or "The planner gave neither a plan nor a reason. Ask again.")
    return told.plan
