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
    "This stay in low heat is longer than the usual schedule's 4 to 5 hours; a tough casing is"
    " likely. Finish the drying on the rail."
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


def casing_exposure(stages: Iterable[SmokeStage]) -> CasingExposure:
    """Sum the smoker's hours below 180 degF; raises InputError for a negative duration."""
    low_heat_h = 0.0
    for stage in stages:
        require_within("the hours of a smoke step", stage.lasted_h, 0.0, 1000.0)
        if fahrenheit(stage.temperature_c) < LOW_HEAT_BELOW_F:
            low_heat_h += stage.lasted_h
    long = low_heat_h > USUAL_LOW_HEAT_H
    return CasingExposure(low_heat_h, LONG_ADVICE if long else USUAL_ADVICE)
