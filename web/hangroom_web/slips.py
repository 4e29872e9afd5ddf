"""Questions about a weight that looks like a slip of the finger. They ask; they never forbid."""

from dataclasses import dataclass

from hangroom.product.doneness import USUAL_LOSS_PCT_PER_DAY
from hangroom.units import Units, say_weight, weight_shown
from hangroom_web.words import _

# Two weighings of one stick may differ by this much for the scale alone, g (common practice for a
# kitchen scale that shows whole or half grams; no source).
SCALE_G = 1.0

# A slip by one decimal place, with room for what the stick really lost since.
SLIP_RATIOS = (6.0, 12.0)

# How far beyond the usual daily loss a weight may lie before it is asked about.
BEYOND_USUAL = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A question; `instead` is the weight that may have been meant, as it would be typed."""

    said: str
    instead: str | None
    keep: str


def slip_in(
    weight_g: float,
    *,
    last_g: float | None,
    since_days: float,
    last_called: str,
    units: Units,
) -> Slip | None:
    """Return what to ask about a weight, or None where it looks right.

    `last_g` is the stick's weight before, `since_days` how long ago that was, `last_called` how to
    speak of that day.
    """
    if last_g is None:
        return None
    low, high = SLIP_RATIOS
    for factor, words in ((10.0, _("ten times")), (0.1, _("a tenth of"))):
        low_g, high_g = sorted((last_g * factor * low / 10.0, last_g * factor * high / 10.0))
        if low_g <= weight_g <= high_g:
            instead_g = weight_g / factor
            return Slip(
                said=_(
                    "{weight} {unit} is {times} the last weight. Did you mean {instead}?"
                ).format(
                    weight=_typed(weight_g, units),
                    unit=units.weight,
                    times=words,
                    instead=_typed(instead_g, units),
                ),
                instead=_typed(instead_g, units),
                keep=_typed(weight_g, units),
            )
    said = _unlikely(weight_g, last_g, since_days, last_called, units)
    return None if said is None else Slip(said=said, instead=None, keep=_typed(weight_g, units))


def expected_g(last_g: float, since_days: float) -> tuple[float, float]:
    """Return between which weights a stick is usually found after some days, g, lighter first."""
    slow_pct, fast_pct = USUAL_LOSS_PCT_PER_DAY
    # A loss slows as the stick dries, so the slow end may be half the usual.
    lightest_g = last_g * (1.0 - min(0.5, fast_pct * since_days / 100.0))
    return lightest_g, last_g * (1.0 - min(0.5, slow_pct / 2.0 * since_days / 100.0))


def _unlikely(
    weight_g: float, last_g: float, since_days: float, last_called: str, units: Units
) -> str | None:
    if weight_g > last_g + SCALE_G:
        return _(
            "{weight} is heavier than the {last} of {when}. A hanging stick only gets lighter: is "
            "it the right stick, and the scale at zero?"
        ).format(
            weight=say_weight(weight_g, units), last=say_weight(last_g, units), when=last_called
        )
    lightest_g, _heaviest_g = expected_g(last_g, since_days * BEYOND_USUAL)
    if weight_g < lightest_g - SCALE_G:
        return _(
            "{weight} is {loss:.0f} % less than the {last} of {when}, more than a stick usually "
            "loses in that time. Is it the right stick?"
        ).format(
            weight=say_weight(weight_g, units),
            loss=100.0 * (1.0 - weight_g / last_g),
            last=say_weight(last_g, units),
            when=last_called,
        )
    return None


def _typed(weight_g: float, units: Units) -> str:
    return f"{weight_shown(weight_g, units):.2f}".rstrip("0").rstrip(".")
