"""A weight that looks like a slip of the finger, and what was probably meant: asked about only."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from hangroom.product.doneness import USUAL_LOSS_PCT_PER_DAY
from hangroom.units import GRAMS_PER_OUNCE, WeightUnit

# Two weighings of one stick may differ by this much for the scale alone, g (common practice for a
# kitchen scale that shows whole or half grams; no source).
SCALE_G = 1.0

# What was meant, as a share of what was expected: less by what the stick lost since, hardly more.
# Our own judgement.
MEANT_RATIOS = (0.6, 1.2)

# How far beyond the usual daily loss a weight may lie before it is asked about.
BEYOND_USUAL = 1.5


class SlipKind(StrEnum):
    """What a weight looks like."""

    TEN_TIMES = "ten times the weight"
    TENTH = "a tenth of the weight"
    GRAMS = "typed in grams"
    OUNCES = "typed in ounces"
    POUNDS = "typed in pounds"
    KILOGRAMS = "typed in kilograms"
    HEAVIER = "heavier than before"
    LIGHTER = "lighter than drying explains"


# Decimal slips: what they make of the weight that was meant.
DECIMAL_RATIOS: Mapping[SlipKind, float] = MappingProxyType(
    {SlipKind.TEN_TIMES: 10.0, SlipKind.TENTH: 0.1}
)
# Units that a weight may have been typed in, g each.
UNITS_G: Mapping[SlipKind, float] = MappingProxyType(
    {
        SlipKind.GRAMS: 1.0,
        SlipKind.OUNCES: GRAMS_PER_OUNCE,
        SlipKind.POUNDS: 16.0 * GRAMS_PER_OUNCE,
        SlipKind.KILOGRAMS: 1000.0,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """What a weight looks like; `meant_g` is None where no factor explains it."""

    kind: SlipKind
    meant_g: float | None = None


def factor_slip(
    weight_g: float, *, like_g: float, asked_in: WeightUnit = WeightUnit.GRAM
) -> Slip | None:
    """Return the factor by which a weight in g misses what it should be like, or None.

    `like_g`: the stick's weight before, or what a recipe's lines add to. `asked_in`: the unit the
    field asks for. Where two factors fit, the one that comes nearer to `like_g`.
    """
    least, most = MEANT_RATIOS
    meant_g = {
        kind: weight_g / ratio
        for kind, ratio in factor_ratios(asked_in).items()
        if least * like_g <= weight_g / ratio <= most * like_g
    }
    if not meant_g:
        return None
    nearest = min(meant_g, key=lambda kind: abs(math.log(meant_g[kind] / like_g)))
    return Slip(kind=nearest, meant_g=meant_g[nearest])


def factor_ratios(asked_in: WeightUnit) -> Mapping[SlipKind, float]:
    """Return what each slip by a factor makes of a weight, where a field asks for this unit."""
    asked_g = UNITS_G[SlipKind.OUNCES if asked_in is WeightUnit.OUNCE else SlipKind.GRAMS]
    return {
        **DECIMAL_RATIOS,
        **{kind: asked_g / unit_g for kind, unit_g in UNITS_G.items() if unit_g != asked_g},
    }


def slip_in(
    weight_g: float,
    *,
    last_g: float,
    since_days: float,
    asked_in: WeightUnit = WeightUnit.GRAM,
) -> Slip | None:
    """Return what to ask about a stick's weight in g, or None where it looks right.

    `last_g` is its weight before, `since_days` how long ago that was, `asked_in` the field's unit.
    """
    factor = factor_slip(weight_g, like_g=last_g, asked_in=asked_in)
    if factor is not None:
        return factor
    lightest_g, heaviest_g = unasked_g(last_g, since_days)
    if weight_g > heaviest_g:
        return Slip(kind=SlipKind.HEAVIER)
    if weight_g < lightest_g:
        return Slip(kind=SlipKind.LIGHTER)
    return None


def unasked_g(last_g: float, since_days: float) -> tuple[float, float]:
    """Return between which weights nothing is asked about, g, unless a factor explains one."""
    lightest_g, _heaviest_g = expected_g(last_g, since_days * BEYOND_USUAL)
    return lightest_g - SCALE_G, last_g + SCALE_G


def expected_g(last_g: float, since_days: float) -> tuple[float, float]:
    """Return between which weights a stick is usually found after some days, g, lighter first."""
    slow_pct, fast_pct = USUAL_LOSS_PCT_PER_DAY
    # A loss slows as the stick dries, so the slow end may be half the usual.
    lightest_g = last_g * (1.0 - min(0.5, fast_pct * since_days / 100.0))
    return lightest_g, last_g * (1.0 - min(0.5, slow_pct / 2.0 * since_days / 100.0))
