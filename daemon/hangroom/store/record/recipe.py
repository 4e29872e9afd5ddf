"""What went into a batch. Owns the table recipe_line."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from sqlite_utils import Database

from hangroom.errors import InputError
from hangroom.product.curing import CuringSalt, LabelPercent
from hangroom.product.findings import Source, Standing
from hangroom.product.meats import Meat, usda_meat
from hangroom.product.recipe import CuringLine, Erythorbate, ErythorbateLine, MeatLine, Recipe
from hangroom.product.slips import Slip, factor_slip
from hangroom.store.checks import ZERO_OR_MORE, check_number, check_text, check_whole
from hangroom.store.database import durably
from hangroom.store.record.entries import Entry, insert_entry

OWN_FIGURES = Source("the keeper's own figures", Standing.JUDGEMENT)
MOST_LINES = 200


class LineKind(StrEnum):
    """What a line of a recipe is."""

    MEAT = "meat"
    SALT = "salt"
    CURING_SALT = "curing-salt"
    WATER = "water"
    SUGAR = "sugar"
    SPICE = "spice"
    ACIDULANT = "acidulant"
    ERYTHORBATE = "erythorbate"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeLine(Entry):
    """One line of a recipe and its weight, g; `place` is its place from the top.

    A meat has its NDB number in `ndb`, or else the keeper's own analysis per 100 g. A curing salt
    has the percentages of its label. Zero says that none went in; where there is no line, nobody
    said. Raises InputError for what cannot be, a label's fraction typed for its percentage too.
    """

    TABLE: ClassVar[str] = "recipe_line"
    ORDER: ClassVar[str] = "place"

    place: int
    kind: LineKind
    name: str
    weight_g: float
    ndb: str | None = None
    water_pct: float | None = None
    protein_pct: float | None = None
    fat_pct: float | None = None
    ash_pct: float | None = None
    sodium_mg_per_100g: float | None = None
    poultry: bool | None = None
    nitrite_pct: float | None = None
    nitrate_pct: float | None = None
    erythorbate: Erythorbate | None = None

    def __post_init__(self) -> None:
        Entry.__post_init__(self)
        check_whole("place of a recipe's line", self.place, (0, MOST_LINES))
        check_text("name of a recipe's line", self.name, needed=True)
        check_number(f"weight of {self.name} in grams", self.weight_g, ZERO_OR_MORE)
        for what, value, belongs in (
            ("a meat's analysis", self.ndb or self.water_pct, self.kind is LineKind.MEAT),
            ("a label's percentage", self.nitrite_pct, self.kind is LineKind.CURING_SALT),
            ("a form of erythorbate", self.erythorbate, self.kind is LineKind.ERYTHORBATE),
        ):
            if belongs and value is None:
                raise InputError(f"{self.name} needs {what}. Enter it; nothing was stored.")
            if value is not None and not belongs:
                raise InputError(
                    f"{self.name} is {self.kind}, which has no place for {what}. Check the kind; "
                    "nothing was stored."
                )
        if self.kind is LineKind.MEAT:
            self.meat()
        if self.kind is LineKind.CURING_SALT:
            self.curing_salt()

    def meat(self) -> Meat:
        """Return the meat of this line; InputError where it is none or its analysis cannot be."""
        if self.ndb is not None:
            return usda_meat(self.ndb)
        if self.water_pct is None or self.protein_pct is None or self.fat_pct is None:
            raise InputError(
                f"{self.name} needs water, protein and fat in %, or an NDB number. Enter them; "
                "nothing was stored."
            )
        return Meat(
            name=self.name,
            water_pct=self.water_pct,
            protein_pct=self.protein_pct,
            fat_pct=self.fat_pct,
            ash_pct=self.ash_pct or 0.0,
            sodium_mg_per_100g=self.sodium_mg_per_100g or 0.0,
            poultry=bool(self.poultry),
            source=OWN_FIGURES,
        )

    def curing_salt(self) -> CuringSalt:
        """Return the curing salt of this line; InputError where its label cannot be."""
        if self.nitrite_pct is None:
            raise InputError(f"{self.name} is no curing salt. Check the kind.")
        return CuringSalt(
            name=self.name,
            nitrite=LabelPercent(self.nitrite_pct),
            nitrate=None if self.nitrate_pct is None else LabelPercent(self.nitrate_pct),
        )


def add_recipe_lines(db: Database, batch_number: int, lines: Iterable[RecipeLine]) -> int:
    """Store lines, all or none, and return how many were new: the same key twice is one line.

    Raises InputError where there is no such batch, or a second line of a kind that goes in once.
    """
    with durably(db):
        return sum(insert_entry(db, batch_number, line) for line in lines)


def as_recipe(lines: Sequence[RecipeLine]) -> Recipe | None:
    """Return the recipe that lines make, None without meat.

    Raises InputError for two curing salts or two erythorbates: their sums are worked for one.
    """
    if not any(line.kind is LineKind.MEAT and line.weight_g > 0 for line in lines):
        return None
    curing = _the_one(lines, LineKind.CURING_SALT)
    erythorbate = _the_one(lines, LineKind.ERYTHORBATE)
    return Recipe(
        meats=tuple(
            MeatLine(meat=line.meat(), weight_g=line.weight_g)
            for line in lines
            if line.kind is LineKind.MEAT
        ),
        plain_salt_g=_together_g(lines, LineKind.SALT),
        curing=(
            CuringLine(curing_salt=curing.curing_salt(), weight_g=curing.weight_g)
            if curing
            else None
        ),
        water_g=_together_g(lines, LineKind.WATER),
        sugar_g=_together_g(lines, LineKind.SUGAR),
        spice_g=_together_g(lines, LineKind.SPICE),
        acidulant_g=_together_g(lines, LineKind.ACIDULANT),
        erythorbate=(
            ErythorbateLine(kind=erythorbate.erythorbate, weight_g=erythorbate.weight_g)
            if erythorbate and erythorbate.erythorbate
            else None
        ),
    )


def green_weight_slip(lines: Sequence[RecipeLine], green_weight_g: float) -> Slip | None:
    """Return what to ask about a batch's green weight that misses its recipe by a known factor.

    Pounds typed as grams, for one; None where it looks right or there is nothing to compare.
    """
    together_g = sum(line.weight_g for line in lines)
    return factor_slip(green_weight_g, like_g=together_g) if together_g > 0 else None


def _the_one(lines: Sequence[RecipeLine], kind: LineKind) -> RecipeLine | None:
    found = [line for line in lines if line.kind is kind]
    if len(found) > 1:
        raise InputError(
            f"There are {len(found)} lines of {kind}; the sums are worked for one. Strike one out."
        )
    return found[0] if found else None


def _together_g(lines: Sequence[RecipeLine], kind: LineKind) -> float:
    return sum(line.weight_g for line in lines if line.kind is kind)
