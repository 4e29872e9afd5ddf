"""The air that a group would hang in under a plan's humidity."""

from collections.abc import Sequence

from hangroom.errors import InputError
from hangroom.product.forecast import AirPlanned, Question
from hangroom.product.humidity_plan import HumidityStep


def air_under(question: Question, steps: Sequence[HumidityStep]) -> tuple[AirPlanned, ...]:
    """Return the air to come with the humidity of some steps, temperatures as the question's plan.

    `steps`: by time, the first at 0 h. Raises InputError where no temperature is known at all.
    """
    changes_h = {question.now_h + each.after_h for each in steps}
    changes_h |= {each.from_h for each in question.plan if each.from_h > question.now_h}
    return tuple(
        AirPlanned(
            from_h=from_h,
            temperature_c=temperature_at_c(question, from_h),
            humidity_pct=[
                each.humidity_pct for each in steps if question.now_h + each.after_h <= from_h
            ][-1],
        )
        for from_h in sorted(changes_h)
    )


def temperature_at_c(question: Question, at_h: float) -> float:
    """Return the temperature expected at a moment from now on, degC; InputError without any."""
    planned = [each.temperature_c for each in question.plan if each.from_h <= at_h]
    if planned:
        return planned[-1]
    if question.air:
        return question.air[-1].temperature_c
    if question.plan:
        return question.plan[0].temperature_c
    raise InputError(
        "No air was measured and none is planned, so there is nothing to plan from. Enter the room"
        " the group hangs in, or what its air is wanted to be."
    )


def humidity_now_pct(question: Question) -> float | None:
    """Return the humidity that was expected from now on before any plan, %RH, None without one."""
    planned = [each.humidity_pct for each in question.plan if each.from_h <= question.now_h]
    if planned:
        return planned[-1]
    return question.air[-1].humidity_pct if question.air else None
