"""Weights in a form that look like a slip, as questions. They ask; they never forbid. Pure."""

from hangroom.product.slips import Slip, SlipKind, factor_slip
from hangroom.units import Units, WeightUnit, weight_shown
from hangroom_web.forms import GRAMS, Question
from hangroom_web.slips import OTHER_UNITS
from hangroom_web.words import _


def factor_doubt(
    weight_g: float | None,
    *,
    like_g: float | None,
    like_called: str,
    units: Units,
    unit: str | None = None,
) -> Question | None:
    """Return what to ask about a weight that misses another by a known factor, or None.

    `like_called` names the other weight in the sentence; `unit` is the one chosen beside the field.
    """
    if weight_g is None or like_g is None:
        return None
    slip = factor_slip(weight_g, like_g=like_g, asked_in=_asked_in(unit or units.weight))
    if slip is None or slip.meant_g is None:
        return None
    typed = typed_g(weight_g, units, unit)
    instead = typed_g(slip.meant_g, units, unit)
    return Question(
        said=_looks_like(slip).format(
            typed=f"{typed} {unit or units.weight}",
            other=OTHER_UNITS.get(slip.kind, ""),
            like=like_called,
            instead=instead,
        ),
        instead=instead,
    )


def heavier_doubt(
    weight_g: float | None, *, than_g: float | None, than_called: str, units: Units
) -> Question | None:
    """Return what to ask about a weight that can only have grown lighter, or None."""
    if weight_g is None or than_g is None or weight_g <= than_g:
        return None
    return Question(
        said=_("{weight} is heavier than {than}. Check both weights.").format(
            weight=f"{typed_g(weight_g, units)} {units.weight}", than=than_called
        )
    )


def typed_g(weight_g: float, units: Units, unit: str | None = None) -> str:
    """Return a weight as somebody would type it, in the unit chosen or the keeper's."""
    shown = weight_g / GRAMS[unit] if unit else weight_shown(weight_g, units)
    return f"{shown:.3f}".rstrip("0").rstrip(".")


def _asked_in(unit: str) -> WeightUnit:
    return WeightUnit.OUNCE if unit in {"oz", "lb"} else WeightUnit.GRAM


def _looks_like(slip: Slip) -> str:
    match slip.kind:
        case SlipKind.TEN_TIMES:
            return _("{typed} is about ten times {like}. Did you mean {instead}?")
        case SlipKind.TENTH:
            return _("{typed} is about a tenth of {like}. Did you mean {instead}?")
        case _:
            return _("{typed} looks like {other} beside {like}. Did you mean {instead}?")
