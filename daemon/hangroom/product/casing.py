"""Hours at low heat in the smoker, which toughen a casing; common practice, no source."""

from collections.abc import Iterable
from dataclasses import dataclass

from hangroom.product.inputs import require_within
from hangroom.product.temperatures import fahrenheit

LOW_HEAT_BELOW_F = 180
# An hour each at 130 and 140 degF, then two to three at 150 degF: the usual schedule's low heat.
USUAL_LOW_HEAT_H = 5.0

USUAL_ADVICE = (
    "The longer a casing stays in low heat, the tougher it gets. Once the wrinkles run the full"
    " length, finish quickly at 180 °F (82.2 °C) and do the rest of the drying on the rail."
)
LONG_ADVICE = (
    "This stay in low heat is longer than the {usual_h:g} hours that the usual schedule takes at"
    " most; a tough casing is likely. Finish the drying on the rail."
)


@dataclass(frozen=True, slots=True)
class SmokeStage:
    """One step in the smoker: its air in degC and how long it lasted, h."""

    temperature_c: float
    lasted_h: float


@dataclass(frozen=True, slots=True)
class CasingExposure:
    """Hours below 180 degF, and what the trade advises."""

    low_heat_h: float
    advice: str


def is_low_heat(air_c: float) -> bool:
    """Whether a smoker's air lies below 180 degF, to the whole degF that thermostats are set in.

    So 82 degC, which is how 180 degF are set on a smoker in degC, is none.
    """
    return round(fahrenheit(air_c)) < LOW_HEAT_BELOW_F


def casing_exposure(
    stages: Iterable[SmokeStage], *, usual_h: float = USUAL_LOW_HEAT_H
) -> CasingExposure:
    """Sum the smoker's hours below 180 degF; raises InputError for a negative duration.

    `usual_h`: the longest that the casing's usual schedule stays in low heat.
    """
    low_heat_h = 0.0
    for stage in stages:
        require_within("the hours of a smoke step", stage.lasted_h, 0.0, 1000.0)
        if is_low_heat(stage.temperature_c):
            low_heat_h += stage.lasted_h
    if low_heat_h > usual_h:
        return CasingExposure(low_heat_h, LONG_ADVICE.format(usual_h=usual_h))
    return CasingExposure(low_heat_h, USUAL_ADVICE)
