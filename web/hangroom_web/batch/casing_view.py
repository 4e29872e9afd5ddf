"""The casing's hours in low heat so far, and what more of them would make of it. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from hangroom.product.casing import LOW_HEAT_BELOW_F, SmokeStage, casing_exposure, is_low_heat
from hangroom.product.smoke import usual_low_heat_h, what_if
from hangroom.product.temperatures import celsius
from hangroom.store.batch_facts import CasingKind
from hangroom.store.record.steps import Step, StepKind
from hangroom.units import Units, say_temperature
from hangroom_web.words import _

HOUR = timedelta(hours=1)
# The air of the usual way's longest step, where none was set yet.
LONGEST_STEP_F = 150


@dataclass(frozen=True, slots=True, kw_only=True)
class CasingView:
    """The casing's hours in low heat so far, and what more of them would make.

    `grows`: they go on while this is shown.
    """

    so_far_h: float
    said: str
    advice: str
    hold: str
    pull: str
    verdict: str
    grows: bool
    unknown: str


def casing_view(
    steps: Sequence[Step], casing: CasingKind | None, *, more_h: float, units: Units, now: datetime
) -> CasingView:
    """Sum the low heat so far, and say what so many hours more would make of it."""
    heated = [step for step in steps if step.kind is not StepKind.CHILL]
    stages = [
        SmokeStage(step.set_temperature_c, max(0.0, ((step.to_at or now) - step.from_at) / HOUR))
        for step in heated
        if step.set_temperature_c is not None
    ]
    usual_h = usual_low_heat_h(casing or CasingKind.COLLAGEN)
    so_far = casing_exposure(stages, usual_h=usual_h)
    lasting = [step for step in heated if step.to_at is None]
    air_c = next(
        (step.set_temperature_c for step in reversed(heated) if step.set_temperature_c is not None),
        celsius(LONGEST_STEP_F),
    )
    told = what_if(stages, air_c=air_c, more_h=more_h, casing=casing or CasingKind.COLLAGEN)
    unknown = [
        step
        for step in heated
        if step.set_temperature_c is None and step.kind is not StepKind.CASING_DRY
    ]
    limit = say_temperature(celsius(LOW_HEAT_BELOW_F), units)
    return CasingView(
        so_far_h=so_far.low_heat_h,
        said=_("below {limit}; the usual way takes {usual:g} h at most").format(
            limit=limit, usual=usual_h
        ),
        advice=so_far.advice,
        hold=_("Held {more:g} h longer at {air}: {hours:.1f} h").format(
            more=more_h, air=say_temperature(air_c, units), hours=told.hold.low_heat_h
        ),
        pull=_("Pulled now and hung: {hours:.1f} h").format(hours=told.pull.low_heat_h),
        verdict=told.advice,
        grows=any(
            step.set_temperature_c is not None and is_low_heat(step.set_temperature_c)
            for step in lasting
        ),
        unknown=_("{count} without a set temperature, so not counted.").format(count=len(unknown))
        if unknown
        else "",
    )
