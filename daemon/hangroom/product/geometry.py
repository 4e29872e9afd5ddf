"""How thick and how long a stick is expected to be at a loss."""

from dataclasses import dataclass

from hangroom.product.inputs import require_above_zero, require_within

# The density assumed for stuffed, cooked batter; the water that leaves takes 1 ml per g.
FRESH_DENSITY_KG_PER_M3 = 1060.0
WATER_DENSITY_KG_PER_M3 = 1000.0

# A stick may shrink only across (2), as a stiff casing makes it, or evenly all round (3).
ACROSS_ONLY = 2.0
ALL_ROUND = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """A stick's diameter and length, mm; raises InputError unless both are above zero."""

    diameter_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        require_above_zero("the diameter in mm", self.diameter_mm)
        require_above_zero("the length in mm", self.length_mm)


def volume_ratio(loss_ratio: float) -> float:
    """Volume left after a loss, as a share of the fresh volume; raises InputError outside 0 to 0.9.

    Exact where everything lost is water and no holes form.
    """
    require_within("the loss as a share of weight", loss_ratio, 0.0, 0.9)
    return 1.0 - loss_ratio * FRESH_DENSITY_KG_PER_M3 / WATER_DENSITY_KG_PER_M3


def density_kg_per_m3(loss_ratio: float) -> float:
    """Density after a loss; raises InputError outside 0 to 0.9."""
    return FRESH_DENSITY_KG_PER_M3 * (1.0 - loss_ratio) / volume_ratio(loss_ratio)


def shrunk(fresh: Size, loss_ratio: float, shrinkage: float) -> Size:
    """Size expected after a loss, for `shrinkage` n from 2 (across only) to 3 (all round).

    diameter = fresh x volume^(1/n), length = fresh x volume^(1 - 2/n). Raises InputError outside.
    """
    require_within("the shrinkage exponent", shrinkage, ACROSS_ONLY, ALL_ROUND)
    left_ratio = volume_ratio(loss_ratio)
    return Size(
        diameter_mm=fresh.diameter_mm * left_ratio ** (1.0 / shrinkage),
        length_mm=fresh.length_mm * left_ratio ** (1.0 - 2.0 / shrinkage),
    )
