"""The usual way through the smoker, and what more hours there mean to the casing.

All of it is common practice, no source.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from hangroom.product.casing import (
    LOW_HEAT_BELOW_F,
    USUAL_LOW_HEAT_H,
    CasingExposure,
    SmokeStage,
    casing_exposure,
)
from hangroom.product.findings import Source, Standing
from hangroom.product.temperatures import in_both

TRADE = Source("how the trade smokes sticks", Standing.COMMON_PRACTICE)


class StepKind(StrEnum):
    """What a step of the way from stuffing to hanging is for."""

    CASING_DRY = "casing-dry"
    SMOKE = "smoke"
    FINISH = "finish"
    CHILL = "chill"


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualStep:
    """One step as the trade does it; `air_f` None where nothing is heated, hours None where open.

    `until` says what ends it.
    """

    kind: StepKind
    until: str
    air_f: int | None = None
    shortest_h: float | None = None
    longest_h: float | None = None


PULLED_AT_CORE_F = 155

_RISING = (
    UsualStep(kind=StepKind.SMOKE, until="an hour", air_f=130, shortest_h=1.0, longest_h=1.0),
    UsualStep(kind=StepKind.SMOKE, until="an hour", air_f=140, shortest_h=1.0, longest_h=1.0),
    UsualStep(
        kind=StepKind.SMOKE,
        until="the wrinkles run the full length",
        air_f=150,
        shortest_h=2.0,
        longest_h=3.0,
    ),
    UsualStep(kind=StepKind.FINISH, until=f"the core is at {in_both(PULLED_AT_CORE_F)}", air_f=180),
    UsualStep(kind=StepKind.CHILL, until="cold through, in an ice bath"),
)

# By casing; one that is not here has no usual way of its own.
USUAL_STEPS: Mapping[str, tuple[UsualStep, ...]] = MappingProxyType(
    {
        "collagen": (
            UsualStep(
                kind=StepKind.CASING_DRY,
                until="the casing is dry to the touch, hung up unheated",
                shortest_h=1.0,
                longest_h=1.0,
            ),
            *_RISING,
        ),
        "natural": (
            UsualStep(
                kind=StepKind.CASING_DRY,
                until="the casing is dry to the touch",
                air_f=110,
                shortest_h=1.0,
                longest_h=1.0,
            ),
            *_RISING,
        ),
    }
)


def usual_low_heat_h(casing: str) -> float:
    """Longest that a casing's usual steps stay below 180 degF, h; as collagen where unknown."""
    if casing not in USUAL_STEPS:
        return USUAL_LOW_HEAT_H
    return sum(
        step.longest_h
        for step in USUAL_STEPS[casing]
        if step.longest_h is not None and step.air_f is not None and step.air_f < LOW_HEAT_BELOW_F
    )


HOLD_TOO_LONG = (
    "Holding on takes the casing past the usual hours in low heat. Pull now and finish the drying"
    " on the rail."
)
ALREADY_TOO_LONG = (
    "The casing is past the usual hours in low heat already, and every hour more makes it tougher."
    " Pull now and finish the drying on the rail."
)
EITHER_WAY = (
    "Either way the casing stays within the usual hours in low heat. Once the wrinkles run the full"
    " length, drying on the rail spares it the rest."
)
COOK_FIRST = (
    "The casing says nothing about the cook: pull only once the coldest stick has had its hold."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIf:
    """The casing's exposure after holding longer, and after pulling now and hanging."""

    hold: CasingExposure
    pull: CasingExposure
    advice: str


def what_if(
    so_far: Iterable[SmokeStage], *, air_c: float, more_h: float, casing: str = "collagen"
) -> WhatIf:
    """Compare so many more hours in the smoker at `air_c` with pulling now.

    Raises InputError for a negative duration.
    """
    stages = tuple(so_far)
    usual_h = usual_low_heat_h(casing)
    pull = casing_exposure(stages, usual_h=usual_h)
    hold = casing_exposure((*stages, SmokeStage(air_c, more_h)), usual_h=usual_h)
    if pull.low_heat_h > usual_h:
        advice = ALREADY_TOO_LONG
    elif hold.low_heat_h > usual_h:
        advice = HOLD_TOO_LONG
    else:
        advice = EITHER_WAY
    return WhatIf(hold=hold, pull=pull, advice=f"{advice} {COOK_FIRST}")
