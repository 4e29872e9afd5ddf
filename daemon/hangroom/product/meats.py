"""What meats are made of: USDA figures shipped with hangroom, or the keeper's own."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from hangroom.errors import InputError
from hangroom.product.findings import Source, Standing
from hangroom.product.inputs import require_within

SALT_PER_SODIUM_RATIO = 2.5421  # molar masses, 58.443 / 22.990


@dataclass(frozen=True, slots=True, kw_only=True)
class Meat:
    """A meat's analysis per 100 g as bought, and where it comes from.

    Raises InputError where a share is negative or the shares exceed 102 % together; published
    analyses are measured part by part and need not add to 100.
    """

    name: str
    water_pct: float
    protein_pct: float
    fat_pct: float
    sodium_mg_per_100g: float
    source: Source
    ash_pct: float = 0.0
    poultry: bool = False

    def __post_init__(self) -> None:
        for part, share_pct in (
            ("water", self.water_pct),
            ("protein", self.protein_pct),
            ("fat", self.fat_pct),
            ("ash", self.ash_pct),
        ):
            require_within(f"{part} % of {self.name}", share_pct, 0.0, 100.0)
        require_within(f"sodium mg per 100 g of {self.name}", self.sodium_mg_per_100g, 0.0, 40_000)
        total_pct = self.water_pct + self.protein_pct + self.fat_pct + self.ash_pct
        require_within(f"the sum of the shares of {self.name}, in %,", total_pct, 0.0, 102.0)

    @property
    def salt_pct(self) -> float:
        """All sodium reckoned as salt, % of weight."""
        return self.sodium_mg_per_100g / 1000.0 * SALT_PER_SODIUM_RATIO


# The copies read were SR26 and a later release of 7,754 foods; which of the two each row was
# taken from was not written down.
USDA_RELEASE = "USDA National Nutrient Database for Standard Reference, SR26 or later"


# NDB number, name, then per 100 g: water, protein, fat, ash in g, sodium in mg.
_USDA_ROWS = (
    ("10219", "Pork, ground, about 79 % lean, raw", 61.06, 16.88, 21.19, 0.87, 56.0),
    ("10972", "Pork, ground, 84/16, raw", 64.67, 17.99, 16.0, 0.91, 68.0),
    ("10973", "Pork, ground, 96/4, raw", 73.62, 21.10, 4.0, 1.07, 67.0),
    ("10080", "Pork, Boston butt, lean and fat, raw", 69.18, 17.42, 12.36, 0.83, 61.0),
    ("10004", "Pork backfat, raw", 7.69, 2.92, 88.69, 0.70, 11.0),
    ("13498", "Beef, ground, 70/30, raw", 54.30, 14.35, 30.0, 0.70, 66.0),
    ("23577", "Beef, ground, 75/25, raw", 58.09, 15.76, 25.0, 0.77, 66.0),
    ("23572", "Beef, ground, 80/20, raw", 61.87, 17.17, 20.0, 0.84, 66.0),
    ("23567", "Beef, ground, 85/15, raw", 65.66, 18.59, 15.0, 0.91, 66.0),
    ("23562", "Beef, ground, 90/10, raw", 69.45, 20.00, 10.0, 0.98, 66.0),
    ("23472", "Beef, ground, 93/7, raw", 71.72, 20.85, 7.0, 1.02, 66.0),
    ("23557", "Beef, ground, 95/5, raw", 73.24, 21.41, 5.0, 1.05, 66.0),
    ("17343", "Venison (deer), ground, raw", 71.15, 21.78, 7.13, 0.88, 75.0),
    ("05668", "Turkey, ground, 85/15, raw", 69.74, 16.90, 12.54, 0.96, 54.0),
)
_USDA_POULTRY = frozenset({"05668"})

USDA_MEATS: Mapping[str, Meat] = MappingProxyType(
    {
        ndb: Meat(
            name=name,
            water_pct=water_pct,
            protein_pct=protein_pct,
            fat_pct=fat_pct,
            ash_pct=ash_pct,
            sodium_mg_per_100g=sodium_mg_per_100g,
            source=Source(f"{USDA_RELEASE}, NDB {ndb}", Standing.SEEN),
            poultry=ndb in _USDA_POULTRY,
        )
        for ndb, name, water_pct, protein_pct, fat_pct, ash_pct, sodium_mg_per_100g in _USDA_ROWS
    }
)


def usda_meat(ndb: str) -> Meat:
    """Look a meat up by its NDB number; raises InputError where it is not in the table."""
    try:
        return USDA_MEATS[ndb]
    except KeyError:
        known = ", ".join(f"{number} {meat.name}" for number, meat in USDA_MEATS.items())
        raise InputError(
            f"There is no meat with the NDB number '{ndb}'. Take one of these, or enter your own"
            f" analysis: {known}."
        ) from None
