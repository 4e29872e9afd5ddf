"""Questions for the forecaster's tests; every number in them is invented."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hangroom.forecast.learning import Learned
from hangroom.product.forecast import AirPlanned, AirSeen, Question, TaggedStick, Weighing

PLAN = (AirPlanned(from_h=0.0, temperature_c=13.0, humidity_pct=75.0),)
TAGGED = (
    TaggedStick(tag="A1", green_weight_g=100.0, hang_weight_g=88.0),
    TaggedStick(tag="A2", green_weight_g=112.0, hang_weight_g=98.6),
    TaggedStick(tag="A3", green_weight_g=94.0, hang_weight_g=82.5),
)


def measured(
    until_h: float, *, every_h: float = 0.5, humidity_pct: float = 75.0
) -> tuple[AirSeen, ...]:
    """Air at 13 degC with a swing of 2 %RH."""
    return tuple(
        AirSeen(
            at_h=float(at_h),
            temperature_c=13.0,
            humidity_pct=humidity_pct + 2.0 * float(np.sin(at_h)),
        )
        for at_h in np.arange(0.0, until_h + 1e-9, every_h)
    )


def weighed(
    at_h: float, lost_ratio: float, tagged: Sequence[TaggedStick] = TAGGED
) -> tuple[Weighing, ...]:
    """All sticks having lost the same share of their weight as hung."""
    return tuple(
        Weighing(
            at_h=at_h, tag=stick.tag, weight_g=(stick.hang_weight_g or 0.0) * (1.0 - lost_ratio)
        )
        for stick in tagged
    )


ASKED = Question(
    tagged=TAGGED,
    sticks_in_group=12,
    target_yield_ratio=0.62,
    water_fraction=0.56,
    diameter_mm=19.0,
    diameter_measured=True,
    scale_sd_g=0.5,
    now_h=0.0,
    air=(),
    plan=PLAN,
)
TWO_DAYS = replace(
    ASKED,
    now_h=48.0,
    air=measured(48.0),
    weighings=(*weighed(24.0, 0.062), *weighed(48.0, 0.112)),
)


def codes(remarks: Sequence[object]) -> list[str]:
    """The codes of remarks."""
    return [str(getattr(remark, "code", "")) for remark in remarks]


def effective(learned: Learned) -> float:
    """Kish's effective sample size of the weights."""
    return 1.0 / float(np.sum(learned.weights_ratio**2))
