"""How gently sticks dry, as three lights: engineering judgement, unverified on real sticks.

Too fast a drying surface stiffens and shuts water in; that the air's humidity matters for it is
published, limits for sticks of 16 to 25 mm are not.
"""

from dataclasses import dataclass
from enum import StrEnum

from hangroom.product.findings import Source, Standing

MECHANISM = Source(
    "Toldrá (ed.), Handbook of Fermented Meat and Poultry, chapter on drying: a surface that dries"
    " too fast stiffens, cannot shrink later and blocks the water (excerpt)",
    Standing.SEEN,
)
LIMITS_SOURCE = Source(
    "limits for thin sticks set here, beside surface and core computed with a shell model of a"
    " shrinking stick at 12 °C and 55 to 82 % humidity",
    Standing.JUDGEMENT,
)

# Water per dry matter at the surface over that in the core; source: LIMITS_SOURCE.
GREEN_FROM_RATIO = 0.65
RED_BELOW_RATIO = 0.50

# A surface drier than the one on a core moister than the other is sealed, whatever the ratio.
SEALED_SURFACE_BELOW_AW = 0.80
SEALED_CORE_ABOVE_AW = 0.92

# Daily loss, % of the weight as hung, of a stick of REFERENCE_MM; thinner ones stand more in
# proportion. Source: LIMITS_SOURCE, for 16 to 20 mm.
AMBER_ABOVE_PCT_PER_DAY = 6.0
RED_ABOVE_PCT_PER_DAY = 10.0
REFERENCE_MM = 19.0


class Light(StrEnum):
    """How gently a stick dries."""

    GREEN = "green"
    AMBER = "amber"
    RED = "red"


@dataclass(frozen=True, slots=True, kw_only=True)
class LossLimits:
    """Daily losses, % of the weight as hung, above which a stick dries fast and too fast."""

    amber_pct_per_day: float
    red_pct_per_day: float


def ratio_light(surface_to_core_ratio: float) -> Light:
    """Judge the water per dry matter at the surface over that in the core."""
    if surface_to_core_ratio >= GREEN_FROM_RATIO:
        return Light.GREEN
    return Light.AMBER if surface_to_core_ratio >= RED_BELOW_RATIO else Light.RED


def is_sealed(surface_aw: float, core_aw: float) -> bool:
    """Return whether a surface this dry stands on a core this moist, both water activities."""
    return surface_aw < SEALED_SURFACE_BELOW_AW and core_aw > SEALED_CORE_ABOVE_AW


def surface_light(surface_to_core_ratio: float, surface_aw: float, core_aw: float) -> Light:
    """Judge a stick's surface beside its core, as a model has them."""
    return Light.RED if is_sealed(surface_aw, core_aw) else ratio_light(surface_to_core_ratio)


def loss_limits(diameter_mm: float) -> LossLimits:
    """Return the limits of daily loss for a thickness in mm."""
    share_ratio = REFERENCE_MM / diameter_mm
    return LossLimits(
        amber_pct_per_day=AMBER_ABOVE_PCT_PER_DAY * share_ratio,
        red_pct_per_day=RED_ABOVE_PCT_PER_DAY * share_ratio,
    )


def loss_light(loss_pct_per_day: float, diameter_mm: float) -> Light:
    """Judge a daily loss, % of the weight as hung, by a stick's thickness in mm."""
    limits = loss_limits(diameter_mm)
    if loss_pct_per_day > limits.red_pct_per_day:
        return Light.RED
    return Light.AMBER if loss_pct_per_day > limits.amber_pct_per_day else Light.GREEN
