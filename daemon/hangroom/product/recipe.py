"""A recipe's lines: what the green mix is made of, and its curing sums against their limits."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from hangroom.product.composition import Makeup, of_curing_salt, of_meat, together
from hangroom.product.cure_limits import (
    HIGHEST_ERYTHORBIC_ACID,
    HIGHEST_NITRATE,
    HIGHEST_SODIUM_ERYTHORBATE,
    CureLimit,
    Cut,
    judge_highest,
    judge_nitrite,
)
from hangroom.product.curing import (
    CuringSalt,
    Dose,
    Ingoing,
    Share,
    curing_salt_for,
    ingoing_erythorbate,
    ingoing_nitrate,
    ingoing_nitrite,
    salt_on_meat,
)
from hangroom.product.findings import Finding
from hangroom.product.inputs import require_above_zero, require_within
from hangroom.product.meats import Meat


@dataclass(frozen=True, slots=True, kw_only=True)
class MeatLine:
    """A meat and its green weight, g."""

    meat: Meat
    weight_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CuringLine:
    """A curing salt by its label and its weight, g."""

    curing_salt: CuringSalt
    weight_g: float


class Erythorbate(StrEnum):
    """Which form of the cure accelerator went in; the two have limits of their own."""

    SODIUM = "sodium erythorbate or ascorbate"
    ACID = "erythorbic or ascorbic acid"


HIGHEST_ERYTHORBATE: Mapping[Erythorbate, CureLimit] = MappingProxyType(
    {
        Erythorbate.SODIUM: HIGHEST_SODIUM_ERYTHORBATE,
        Erythorbate.ACID: HIGHEST_ERYTHORBIC_ACID,
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ErythorbateLine:
    """An erythorbate or ascorbate and its weight, g."""

    kind: Erythorbate
    weight_g: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """A green mix, line by line, g; spice, sugar and acidulant are reckoned as dry.

    `curing` and `erythorbate` are None where the record does not say; a batch made without them
    says 0 g. Raises InputError for a weight below zero or where there is no meat.
    """

    meats: tuple[MeatLine, ...]
    plain_salt_g: float = 0.0
    curing: CuringLine | None = None
    water_g: float = 0.0
    sugar_g: float = 0.0
    spice_g: float = 0.0
    acidulant_g: float = 0.0
    erythorbate: ErythorbateLine | None = None

    def __post_init__(self) -> None:
        for name, weight_g in self._lines():
            require_within(f"the weight of {name} in grams", weight_g, 0.0, float("inf"))
        require_above_zero("the green weight of the meat in grams", self.meat_green_g)

    def _lines(self) -> Iterator[tuple[str, float]]:
        yield from ((line.meat.name, line.weight_g) for line in self.meats)
        yield "salt", self.plain_salt_g
        yield "water", self.water_g
        yield "sugar", self.sugar_g
        yield "spice", self.spice_g
        yield "acidulant", self.acidulant_g
        if self.curing is not None:
            yield self.curing.curing_salt.name, self.curing.weight_g
        if self.erythorbate is not None:
            yield self.erythorbate.kind, self.erythorbate.weight_g

    @property
    def meat_green_g(self) -> float:
        """Green weight of the meat alone, g: the base of every curing sum."""
        return sum(line.weight_g for line in self.meats)

    @property
    def poultry(self) -> bool:
        """Whether any of the meat is poultry."""
        return any(line.meat.poultry and line.weight_g > 0.0 for line in self.meats)

    @property
    def green(self) -> Makeup:
        """Makeup of the whole green mix."""
        rest_g = self.sugar_g + self.spice_g + self.acidulant_g
        if self.erythorbate is not None:
            rest_g += self.erythorbate.weight_g
        lines = [of_meat(line.meat, line.weight_g) for line in self.meats]
        if self.curing is not None:
            lines.append(of_curing_salt(self.curing.curing_salt, self.curing.weight_g))
        lines.append(Makeup(water_g=self.water_g, salt_g=self.plain_salt_g, rest_g=rest_g))
        return together(lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class CuringSums:
    """Every curing sum of a recipe with its working; None where the record does not say enough.

    `dose` is the curing salt to weigh out for a wanted nitrite, None where none was wanted.
    """

    nitrite: Ingoing | None
    nitrate: Ingoing | None
    salt: Share | None
    erythorbate: Ingoing | None
    dose: Dose | None


def curing_sums(recipe: Recipe, *, wanted_nitrite_ppm: float | None = None) -> CuringSums:
    """Work out a recipe's curing sums, all on the green weight of the meat alone.

    Raises InputError for a wanted nitrite that cannot be.
    """
    meat_g, curing, erythorbate = recipe.meat_green_g, recipe.curing, recipe.erythorbate
    accelerator = None if erythorbate is None else ingoing_erythorbate(erythorbate.weight_g, meat_g)
    if curing is None:
        return CuringSums(nitrite=None, nitrate=None, salt=None, erythorbate=accelerator, dose=None)
    mix, mix_g = curing.curing_salt, curing.weight_g
    return CuringSums(
        nitrite=ingoing_nitrite(mix, mix_g, meat_g),
        nitrate=ingoing_nitrate(mix, mix_g, meat_g),
        salt=salt_on_meat(recipe.plain_salt_g, mix, mix_g, meat_g),
        erythorbate=accelerator,
        dose=(
            None if wanted_nitrite_ppm is None else curing_salt_for(mix, wanted_nitrite_ppm, meat_g)
        ),
    )


def judge_recipe(
    recipe: Recipe | None, cut: Cut = Cut.COMMINUTED, *, keep_refrigerated: bool = True
) -> tuple[Finding, ...]:
    """Judge the cure against its limits; nitrate and erythorbate only where they went in.

    A cut without a published nitrate limit has no finding on nitrate.
    """
    sums = None if recipe is None else curing_sums(recipe)
    findings = judge_nitrite(
        None if sums is None else sums.nitrite, cut, keep_refrigerated=keep_refrigerated
    )
    if recipe is None or sums is None:
        return findings
    if recipe.curing is not None and recipe.curing.curing_salt.nitrate and cut in HIGHEST_NITRATE:
        limit = HIGHEST_NITRATE[cut]
        findings += (judge_highest(sums.nitrate, limit, "ingoing nitrate"),)
    if recipe.erythorbate is not None:
        kind = recipe.erythorbate.kind
        findings += (judge_highest(sums.erythorbate, HIGHEST_ERYTHORBATE[kind], f"ingoing {kind}"),)
    return findings
