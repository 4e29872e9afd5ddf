"""Yield and loss, always with the weight they stand on.

A stick has three weights that a yield may be taken on, and the same stick gives three different
figures. A `Yield` therefore carries its base and two on different bases cannot be compared.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from hangroom.errors import InputError
from hangroom.product.inputs import require_above_zero


class Base(StrEnum):
    """The weight that a yield stands on."""

    GREEN = "green"
    COOKED = "cooked"
    HUNG = "hung"


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseWeights:
    """A stick's or a group's weight when raw and stuffed, cooked, and first hung; g, None unknown.

    Raises InputError where a weight is not above zero.
    """

    green_g: float | None = None
    cooked_g: float | None = None
    hung_g: float | None = None

    def __post_init__(self) -> None:
        for base in Base:
            weight_g = self._weight_g(base)
            if weight_g is not None:
                require_above_zero(f"the {base} weight in grams", weight_g)

    def _weight_g(self, base: Base) -> float | None:
        match base:
            case Base.GREEN:
                return self.green_g
            case Base.COOKED:
                return self.cooked_g
            case Base.HUNG:
                return self.hung_g

    def on(self, base: Base) -> float:
        """Weight at that base in g; raises InputError where it was never taken."""
        weight_g = self._weight_g(base)
        if weight_g is None:
            raise InputError(
                f"The {base} weight was never taken, so there is no yield on it."
                f" Enter the {base} weight, or use another base."
            )
        return weight_g


@dataclass(frozen=True, slots=True, kw_only=True)
class Yield:
    """Weight now as a share of the weight at `base`; raises InputError unless above zero."""

    ratio: float
    base: Base

    def __post_init__(self) -> None:
        require_above_zero(f"the yield on {self.base} weight", self.ratio)

    @property
    def loss_pct(self) -> float:
        """Weight lost since the base weight, % of it; negative after a gain."""
        return 100.0 * (1.0 - self.ratio)


def yield_of(weight_g: float, weights: BaseWeights, base: Base) -> Yield:
    """Yield of a weight in g on a base; raises InputError where that base is unknown."""
    return Yield(ratio=weight_g / weights.on(base), base=base)


def weight_at_g(kept: Yield, weights: BaseWeights) -> float:
    """Weight in g at which a yield is reached, the scale's target; InputError without its base."""
    return kept.ratio * weights.on(kept.base)


def rebased(kept: Yield, weights: BaseWeights, base: Base) -> Yield:
    """Restate a yield or a target on another base; InputError where either weight is unknown."""
    return yield_of(weight_at_g(kept, weights), weights, base)


def on_every_base(kept: Yield, weights: BaseWeights) -> Mapping[Base, Yield]:
    """Restate a yield on every base that the known weights reach; its own is always there."""
    known = {Base.GREEN: weights.green_g, Base.COOKED: weights.cooked_g, Base.HUNG: weights.hung_g}
    reached = {base for base, weight_g in known.items() if weight_g is not None}
    if kept.base not in reached:
        return MappingProxyType({kept.base: kept})
    return MappingProxyType(
        {base: rebased(kept, weights, base) for base in Base if base in reached}
    )
