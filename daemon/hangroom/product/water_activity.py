"""Water activity worked out from composition: an estimate, never a measurement.

Salt alone over-states the water activity of dried sticks by 0.065 on average; salt and protein
together come within about 0.025. Neither may answer a check: those take measured values only.
Water activity and pH have no unit; their names end in `aw` and `ph`.
"""

import math
from dataclasses import dataclass

from hangroom.product.findings import Source, Standing
from hangroom.product.inputs import require_within

SALT_MOLAR_MASS_G_PER_MOL = 58.443
WATER_MOLAR_MASS_G_PER_MOL = 18.0153
SATURATED_BRINE_PCT = 26.4  # NaCl in water at 25 degC

# Pitzer's parameters for NaCl at 25 degC, from memory; with them the table of Robinson & Stokes
# (1 molal 0.9669, 6 molal 0.760) and the saturated 0.755 come out within 0.0006.
_A_PHI, _BETA_0, _BETA_1, _C_PHI = 0.3915, 0.0765, 0.2664, 0.00127
_B, _ALPHA = 1.2, 2.0


def brine_molality(water_phase_salt_pct: float) -> float:
    """Mol of salt per kg of water; raises InputError from 0 to saturation, 26.4 %, left."""
    require_within("the water-phase salt in %", water_phase_salt_pct, 0.0, SATURATED_BRINE_PCT)
    salt_per_water_ratio = water_phase_salt_pct / (100.0 - water_phase_salt_pct)
    return 1000.0 * salt_per_water_ratio / SALT_MOLAR_MASS_G_PER_MOL


def brine_aw(water_phase_salt_pct: float) -> float:
    """Water activity of salt in water at 25 degC; raises InputError beyond saturation.

    Source: Pitzer's equation for the osmotic coefficient; see the parameters above.
    """
    molality = brine_molality(water_phase_salt_pct)
    root = math.sqrt(molality)
    osmotic_coefficient = (
        1.0
        - _A_PHI * root / (1.0 + _B * root)
        + molality * (_BETA_0 + _BETA_1 * math.exp(-_ALPHA * root))
        + molality**2 * _C_PHI
    )
    return math.exp(-2.0 * osmotic_coefficient * molality * WATER_MOLAR_MASS_G_PER_MOL / 1000.0)


QUADRATIC_HIGHEST_PCT = 17.0


def brine_aw_quadratic(water_phase_salt_pct: float) -> float:
    """Short form of `brine_aw`: within 0.001 up to 12 % salt, 0.0015 up to 15 %, 0.004 up to 17 %.

    Raises InputError above. Source: Resnik & Chirife 1988, J. Food Prot. 51:419; coefficients from
    memory.
    """
    require_within("the water-phase salt in %", water_phase_salt_pct, 0.0, QUADRATIC_HIGHEST_PCT)
    return 1.0 - 0.0052471 * water_phase_salt_pct - 0.00012206 * water_phase_salt_pct**2


def protein_corrected_aw(
    water_phase_salt_pct: float, moisture_protein_ratio: float, protein_term: float
) -> float:
    """Brine's water activity lowered by the protein: aw = aw_brine x exp(-k / MPR), Ross' rule.

    Raises InputError beyond saturation or for a ratio of 0 or less. k is fitted; see `estimate`.
    """
    require_within("the moisture:protein ratio", moisture_protein_ratio, 1e-6, 1e6)
    return brine_aw(water_phase_salt_pct) * math.exp(-protein_term / moisture_protein_ratio)


# k fitted to 14 dried products of a challenge study that did not support S. aureus. 0.11 is the
# least-squares fit (root mean square error 0.014, worst 0.025); with 0.08 no product's measured
# water activity lies above the prediction.
FIT_K_LOW_AW, FIT_K_HIGH_AW = 0.11, 0.08
FIT_SOURCE = Source(
    "hangroom's fit to 'Critical Limit Summary: Validating Shelf-Stability', Univ. of"
    " Wisconsin-Madison: 14 salamis, pepperonis and snack sticks",
    Standing.CALCULATED,
)
# What those 14 products span. Their ratios are published to one decimal, so ours is rounded
# to one before it is compared.
FIT_LOWEST_MPR_RATIO, FIT_HIGHEST_MPR_RATIO = 0.9, 2.5
FIT_LOWEST_SALT_PCT, FIT_HIGHEST_SALT_PCT = 3.2, 19.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Range in which the water activity is expected; an estimate, not a measurement."""

    low_aw: float
    high_aw: float


@dataclass(frozen=True, slots=True)
class Outside:
    """No estimate: the composition lies where no product was measured, and why."""

    reason: str


def estimate(
    water_phase_salt_pct: float | None, moisture_protein_ratio: float | None
) -> Estimate | Outside:
    """Estimate the water activity as a range from k 0.11 to 0.08, or say why there is none.

    The products behind the fit were mostly fermented or acidified and sugared, which lowers water
    activity: a plain stick may lie above the range.
    """
    if water_phase_salt_pct is None or moisture_protein_ratio is None:
        return Outside("The batch has no water, no salt or no protein on record.")
    shown_ratio = round(moisture_protein_ratio, 1)
    if shown_ratio > FIT_HIGHEST_MPR_RATIO:
        return Outside(
            f"Too moist for the fit: moisture:protein {shown_ratio:.1f}, and the measured products"
            f" end at {FIT_HIGHEST_MPR_RATIO}."
        )
    if shown_ratio < FIT_LOWEST_MPR_RATIO:
        return Outside(
            f"Too dry for the fit: moisture:protein {shown_ratio:.1f}, and the measured products"
            f" begin at {FIT_LOWEST_MPR_RATIO}."
        )
    if not FIT_LOWEST_SALT_PCT <= water_phase_salt_pct <= FIT_HIGHEST_SALT_PCT:
        return Outside(
            f"Water-phase salt {water_phase_salt_pct:.1f} %, and the measured products span"
            f" {FIT_LOWEST_SALT_PCT} to {FIT_HIGHEST_SALT_PCT} %."
        )
    low_aw, high_aw = (
        protein_corrected_aw(water_phase_salt_pct, moisture_protein_ratio, k)
        for k in (FIT_K_LOW_AW, FIT_K_HIGH_AW)
    )
    return Estimate(low_aw=low_aw, high_aw=high_aw)
