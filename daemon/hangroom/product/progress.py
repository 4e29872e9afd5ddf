"""What a batch is made of, and how thick a stick is, at each yield from green to dry.

Estimates from the recipe and the weights, never measurements: none may answer a check.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from hangroom.errors import InputError
from hangroom.product.composition import Makeup, dried, yield_at_moisture_protein_ratio
from hangroom.product.geometry import ACROSS_ONLY, ALL_ROUND, Size, shrunk
from hangroom.product.inputs import require_within
from hangroom.product.water_activity import (
    SATURATED_BRINE_PCT,
    Estimate,
    Outside,
    brine_aw,
    estimate,
)
from hangroom.product.yields import Base, BaseWeights, Yield, on_every_base, rebased

AS_STUFFED = Yield(ratio=1.0, base=Base.GREEN)
NOTHING_WEIGHED = BaseWeights()


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What a stick's way is reckoned from.

    `green` is the makeup of the whole green batch and `fat_drip_g` the fat that dripped from all of
    it in the cook. `weights`, of the same sticks each, tie the three bases together. `size` was
    measured at the yield `size_at`. Raises InputError where fat dripped but the green or the cooked
    weight is missing, or where more dripped than the cook lost.
    """

    green: Makeup
    weights: BaseWeights = NOTHING_WEIGHED
    fat_drip_g: float = 0.0
    size: Size | None = None
    size_at: Yield = AS_STUFFED

    def __post_init__(self) -> None:
        require_within("the fat that dripped, in grams,", self.fat_drip_g, 0.0, self.green.fat_g)
        if self.fat_drip_g > 0.0 and self.fat_drip_g > self.cook_lost_g:
            raise InputError(
                f"{self.fat_drip_g:g} g of fat are said to have dripped, but the cook took only"
                f" {self.cook_lost_g:.1f} g off the batch. Check the green and the cooked weight,"
                " and that the drip is that of the whole batch."
            )

    @property
    def cook_lost_g(self) -> float:
        """What the whole batch lost in the cook, g; InputError without green and cooked weight."""
        cooked = rebased(Yield(ratio=1.0, base=Base.COOKED), self.weights, Base.GREEN)
        return self.green.weight_g * (1.0 - cooked.ratio)

    def on(self, kept: Yield, base: Base) -> Yield:
        """Restate a yield on a base; raises InputError where a weight for that is unknown."""
        return kept if kept.base is base else rebased(kept, self.weights, base)

    def dripped_g(self, lost_g: float) -> float:
        """Fat gone once the batch has lost so much, g: in the cook's proportion, none after it."""
        if self.fat_drip_g == 0.0:
            return 0.0
        return self.fat_drip_g * min(1.0, lost_g / self.cook_lost_g)


@dataclass(frozen=True, slots=True, kw_only=True)
class CookLoss:
    """What the whole batch lost in the cook, g: as water and as fat that dripped."""

    kept: Yield
    water_g: float
    fat_g: float


def cook_loss(start: Start) -> CookLoss:
    """Part the cook's loss; raises InputError where the green or the cooked weight is unknown."""
    lost_g = start.cook_lost_g
    return CookLoss(
        kept=start.on(Yield(ratio=1.0, base=Base.COOKED), Base.GREEN),
        water_g=lost_g - start.fat_drip_g,
        fat_g=start.fat_drip_g,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedSize:
    """The two ends of how a stick may shrink: across only, its length kept, or all round."""

    across_only: Size
    all_round: Size


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """The batch at one yield, named on every base whose weight is known.

    `salt_alone_aw` is that of the brine, on average 0.065 too high for a dried stick; None without
    brine or beyond its saturation. `aw` is the range that salt and protein let expect.
    """

    kept: Mapping[Base, Yield]
    made: Makeup
    salt_alone_aw: float | None
    aw: Estimate | Outside
    size: ExpectedSize | None


def progress_at(start: Start, kept: Yield) -> Progress:
    """Work out the batch at a yield on any base.

    Raises InputError for a base whose weight is unknown, or where more is lost than there was.
    """
    on_green = start.on(kept, Base.GREEN)
    lost_g = start.green.weight_g * (1.0 - on_green.ratio)
    made = dried(start.green, on_green, fat_drip_g=start.dripped_g(max(0.0, lost_g)))
    brine_pct = made.water_phase_salt_pct
    return Progress(
        kept=on_every_base(on_green, start.weights),
        made=made,
        salt_alone_aw=(
            brine_aw(brine_pct)
            if brine_pct is not None and brine_pct <= SATURATED_BRINE_PCT
            else None
        ),
        aw=estimate(brine_pct, made.moisture_protein_ratio),
        size=_size(start, on_green),
    )


def progress(start: Start, kept: Iterable[Yield]) -> tuple[Progress, ...]:
    """Work out the batch at each yield, in the order given; raises InputError as `progress_at`."""
    return tuple(progress_at(start, each) for each in kept)


def _size(start: Start, on_green: Yield) -> ExpectedSize | None:
    if start.size is None:
        return None
    measured_ratio = 1.0 - start.on(start.size_at, Base.GREEN).ratio
    lost_ratio = 1.0 - on_green.ratio

    def from_measured(size: Size, shrinkage_ratio: float) -> Size:
        then = shrunk(size, measured_ratio, shrinkage_ratio)
        now = shrunk(size, lost_ratio, shrinkage_ratio)
        return Size(
            diameter_mm=size.diameter_mm * now.diameter_mm / then.diameter_mm,
            length_mm=size.length_mm * now.length_mm / then.length_mm,
        )

    return ExpectedSize(
        across_only=from_measured(start.size, ACROSS_ONLY),
        all_round=from_measured(start.size, ALL_ROUND),
    )


def yield_at_ratio(start: Start, wanted_ratio: float, base: Base = Base.GREEN) -> Yield | None:
    """Yield on a base at which a moisture:protein ratio is reached.

    None where the green batch already lies at or below it. Raises InputError without protein or for
    a base whose weight is unknown.
    """
    without_drip = yield_at_moisture_protein_ratio(start.green, wanted_ratio)
    if without_drip is None:
        return None
    green_g = start.green.weight_g
    water_g = green_g * (1.0 - without_drip.ratio)
    lost_g = water_g + start.fat_drip_g
    if start.fat_drip_g > 0.0 and lost_g < start.cook_lost_g:
        # Reached while fat still drips: water is then a fixed share of what is lost.
        lost_g = water_g * start.cook_lost_g / (start.cook_lost_g - start.fat_drip_g)
    return start.on(Yield(ratio=1.0 - lost_g / green_g, base=Base.GREEN), base)
