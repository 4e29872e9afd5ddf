"""What a batch is made of, green and at any yield: a mass balance in grams.

All loss is taken as water; fat that dripped is given apart. Salt means added salt: the sodium
that meat brings itself (about 0.15 % as salt) is left out, as water-phase salt is usually stated.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from hangroom.errors import InputError
from hangroom.product.curing import CuringSalt
from hangroom.product.inputs import require_above_zero, require_within
from hangroom.product.meats import Meat
from hangroom.product.yields import Base, Yield


@dataclass(frozen=True, slots=True, kw_only=True)
class Makeup:
    """Grams of water, protein, fat, salt and everything else in a batch, a stick or 100 g.

    `rest_g` closes the balance (ash, spice, sugar); it may be a trace below zero where a published
    analysis adds to more than 100 %. Raises InputError where another part is negative.
    """

    water_g: float = 0.0
    protein_g: float = 0.0
    fat_g: float = 0.0
    salt_g: float = 0.0
    rest_g: float = 0.0

    def __post_init__(self) -> None:
        for part, weight_g in (
            ("water", self.water_g),
            ("protein", self.protein_g),
            ("fat", self.fat_g),
            ("salt", self.salt_g),
        ):
            require_within(f"{part} in grams", weight_g, 0.0, float("inf"))

    @property
    def weight_g(self) -> float:
        """All parts together, g."""
        return self.water_g + self.protein_g + self.fat_g + self.salt_g + self.rest_g

    def share_pct(self, part_g: float) -> float:
        """What a part in g is of the whole, %; raises InputError where the whole is nothing."""
        require_above_zero("the batch's weight in grams", self.weight_g)
        return 100.0 * part_g / self.weight_g

    @property
    def water_pct(self) -> float:
        """Water, % of weight."""
        return self.share_pct(self.water_g)

    @property
    def protein_pct(self) -> float:
        """Protein, % of weight."""
        return self.share_pct(self.protein_g)

    @property
    def fat_pct(self) -> float:
        """Fat, % of weight."""
        return self.share_pct(self.fat_g)

    @property
    def salt_pct(self) -> float:
        """Salt, % of weight."""
        return self.share_pct(self.salt_g)

    @property
    def water_phase_salt_pct(self) -> float | None:
        """Salt in the brine it makes with the water, 100 salt / (salt + water); None without both.

        Also called brine %.
        """
        brine_g = self.salt_g + self.water_g
        return 100.0 * self.salt_g / brine_g if brine_g > 0.0 else None

    @property
    def moisture_protein_ratio(self) -> float | None:
        """Water / protein by weight; None without protein."""
        return self.water_g / self.protein_g if self.protein_g > 0.0 else None


def of_meat(meat: Meat, weight_g: float) -> Makeup:
    """Makeup of a weight of meat in g; raises InputError where the weight is negative."""
    require_within(f"the weight of {meat.name} in grams", weight_g, 0.0, float("inf"))
    water_g, protein_g, fat_g = (
        weight_g * share_pct / 100.0
        for share_pct in (meat.water_pct, meat.protein_pct, meat.fat_pct)
    )
    return Makeup(
        water_g=water_g,
        protein_g=protein_g,
        fat_g=fat_g,
        rest_g=weight_g - water_g - protein_g - fat_g,
    )


def of_curing_salt(curing_salt: CuringSalt, weight_g: float) -> Makeup:
    """Makeup of a weight of curing salt in g: salt, and nitrite and nitrate as the rest."""
    salt_g = weight_g * curing_salt.salt_pct / 100.0
    return Makeup(salt_g=salt_g, rest_g=weight_g - salt_g)


def together(parts: Iterable[Makeup]) -> Makeup:
    """Sum of the recipe's parts: the green batch."""
    lines = tuple(parts)
    return Makeup(
        water_g=sum(line.water_g for line in lines),
        protein_g=sum(line.protein_g for line in lines),
        fat_g=sum(line.fat_g for line in lines),
        salt_g=sum(line.salt_g for line in lines),
        rest_g=sum(line.rest_g for line in lines),
    )


def dried(green: Makeup, kept: Yield, *, fat_drip_g: float = 0.0) -> Makeup:
    """Makeup at a yield on green weight; what was lost and did not drip as fat was water.

    Raises InputError on another base, or where more is lost than there was water or fat.
    """
    if kept.base is not Base.GREEN:
        raise InputError(
            f"This yield stands on the {kept.base} weight; the batch's composition is known for"
            " the green weight. Restate the yield on green weight first."
        )
    require_within("the fat that dripped, in grams,", fat_drip_g, 0.0, green.fat_g)
    water_lost_g = green.weight_g * (1.0 - kept.ratio) - fat_drip_g
    if water_lost_g > green.water_g:
        raise InputError(
            f"A yield of {kept.ratio:.3f} would need {water_lost_g:.1f} g of water lost, but the"
            f" green batch holds {green.water_g:.1f} g. Check the weights and the recipe."
        )
    return replace(green, water_g=green.water_g - water_lost_g, fat_g=green.fat_g - fat_drip_g)


def yield_at_moisture_protein_ratio(
    green: Makeup, wanted_ratio: float, *, fat_drip_g: float = 0.0
) -> Yield | None:
    """Yield on green weight at which a moisture:protein ratio is reached, in closed form.

    yield = 1 - (water - wanted x protein + drip) / batch. None where the green batch already lies
    at or below the ratio; InputError without protein.
    """
    require_above_zero("the wanted moisture:protein ratio", wanted_ratio)
    require_above_zero("the protein in the batch, in grams,", green.protein_g)
    require_within("the fat that dripped, in grams,", fat_drip_g, 0.0, green.fat_g)
    water_over_g = green.water_g - wanted_ratio * green.protein_g
    if water_over_g <= 0.0:
        return None
    return Yield(ratio=1.0 - (water_over_g + fat_drip_g) / green.weight_g, base=Base.GREEN)
