"""A recipe's curing sums in words: each with its inputs, its formula, its result. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from hangroom.errors import InputError
from hangroom.product.curing import Dose, Ingoing, Share
from hangroom.product.findings import Finding
from hangroom.product.recipe import Recipe, curing_sums, judge_recipe
from hangroom.store.record.recipe import RecipeLine, as_recipe
from hangroom.store.record.sums import FrozenSums, Sum, sums_stored
from hangroom_web.words import _

INPUTS = {
    "curing_salt_g": _("curing salt, {figure} g"),
    "label_nitrite_pct": _("nitrite on its label, {figure} %"),
    "label_nitrate_pct": _("nitrate on its label, {figure} %"),
    "meat_green_g": _("green weight of the meat, {figure} g"),
    "wanted_ppm": _("wanted nitrite, {figure} ppm"),
    "erythorbate_g": _("erythorbate or ascorbate, {figure} g"),
    "plain_salt_g": _("salt, {figure} g"),
    "curing_salt_salt_pct": _("salt in the curing salt, {figure} %"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SumView:
    """One curing sum as it is shown."""

    what: str
    result: str
    formula: str
    inputs: Sequence[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """The sums of the recipe as it stands now, and how they stand against published limits.

    `fault` says why nothing can be worked out, where that is so.
    """

    sums: Sequence[Sum]
    findings: Sequence[Finding]
    fault: str = ""


def worked(lines: Sequence[RecipeLine]) -> Worked:
    """Work out the sums of a recipe's lines; none of them without meat."""
    try:
        recipe = as_recipe(lines)
    except InputError as fault:
        return Worked(sums=(), findings=(), fault=str(fault))
    if recipe is None:
        return Worked(sums=(), findings=())
    return Worked(sums=sums_of(recipe), findings=judge_recipe(recipe))


def sums_of(recipe: Recipe) -> tuple[Sum, ...]:
    """Return the sums that a recipe says enough for; nitrate only where the label has some."""
    sums = curing_sums(recipe)
    nitrate = recipe.curing.curing_salt.nitrate if recipe.curing else None
    found = (sums.nitrite, sums.nitrate if nitrate else None, sums.salt, sums.erythorbate)
    return tuple(one for one in found if one is not None)


def still_so(frozen: FrozenSums, now: Sequence[Sum]) -> bool:
    """Return whether frozen sums are those of the recipe as it stands now."""
    return sums_stored(frozen.sums) == sums_stored(now)


def sum_view(one: Sum) -> SumView:
    """Put a sum into words."""
    working = one.working
    return SumView(
        what=working.what,
        result=say_result(one),
        formula=working.formula,
        inputs=[
            INPUTS.get(name, name + " {figure}").format(figure=_figure(value))
            for name, value in working.inputs.items()
        ],
    )


def say_result(one: Sum) -> str:
    """Return for example '155.0 ppm', '6.24 g' or '1.73 %'."""
    match one:
        case Ingoing():
            return _("{result:.1f} ppm").format(result=one.result_ppm)
        case Dose():
            return _("{result} g").format(result=_figure(one.result_g))
        case Share():
            return _("{result:.2f} %").format(result=one.result_pct)


def _figure(value: float) -> str:
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"  # noqa: PLR2004 - 4 digits
