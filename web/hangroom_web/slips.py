"""Questions about a weight that looks like a slip of the finger. They ask; they never forbid."""

from dataclasses import dataclass

from hangroom.product import slips
from hangroom.product.slips import SlipKind
from hangroom.units import Units, say_weight, weight_shown
from hangroom_web.words import _

OTHER_UNITS = {
    SlipKind.POUNDS: _("pounds"),
    SlipKind.KILOGRAMS: _("kilograms"),
    SlipKind.OUNCES: _("ounces"),
    SlipKind.GRAMS: _("grams"),
}


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
    found = slips.slip_in(weight_g, last_g=last_g, since_days=since_days, asked_in=units.weight)
    if found is None:
        return None
    return Slip(
        said=_question(found.kind).format(
            typed=f"{_typed(weight_g, units)} {units.weight}",
            instead="" if found.meant_g is None else _typed(found.meant_g, units),
            other=OTHER_UNITS.get(found.kind, ""),
            weight=say_weight(weight_g, units),
            loss=100.0 * (1.0 - weight_g / last_g),
            last=say_weight(last_g, units),
            when=last_called,
        ),
        instead=None if found.meant_g is None else _typed(found.meant_g, units),
        keep=_typed(weight_g, units),
    )


def slips_told(units: Units) -> dict[str, object]:
    """Return what a phone needs to ask the same by itself: factors and sentences with gaps."""
    return {
        "meant": slips.MEANT_RATIOS,
        "factors": [
            (ratio, _question(kind).replace("{other}", OTHER_UNITS.get(kind, "")))
            for kind, ratio in slips.factor_ratios(units.weight).items()
        ],
        "heavier": _question(SlipKind.HEAVIER),
        "lighter": _question(SlipKind.LIGHTER).replace("{loss:.0f}", "{loss}"),
    }


def _question(kind: SlipKind) -> str:
    match kind:
        case SlipKind.TEN_TIMES:
            return _("{typed} is ten times the last weight. Did you mean {instead}?")
        case SlipKind.TENTH:
            return _("{typed} is a tenth of the last weight. Did you mean {instead}?")
        case SlipKind.POUNDS | SlipKind.KILOGRAMS | SlipKind.OUNCES | SlipKind.GRAMS:
            return _("{typed} looks like {other}. Did you mean {instead}?")
        case SlipKind.HEAVIER:
            return _(
                "{weight} is heavier than the {last} of {when}. A hanging stick only gets lighter: "
                "is it the right stick, and the scale at zero?"
            )
        case SlipKind.LIGHTER:
            return _(
                "{weight} is {loss:.0f} % less than the {last} of {when}, more than a stick "
                "usually loses in that time. Is it the right stick?"
            )


def _typed(weight_g: float, units: Units) -> str:
    return f"{weight_shown(weight_g, units):.2f}".rstrip("0").rstrip(".")
