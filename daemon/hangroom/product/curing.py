"""Curing sums: what goes in, on the green weight of the meat alone.

Source of the formula: Processing Inspectors' Calculations Handbook (FSIS Directive 7620.3,
rev. 1995), ch. 3: ppm = weight of cure x nitrite fraction x 1,000,000 / green weight of the meat
block. Water, spice and binder do not count, and the finished weight never does.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from hangroom.errors import InputError
from hangroom.product.inputs import require_above_zero, require_within

# European mixes go down to 0.4 %; a smaller figure is the fraction, mistaken for the percentage.
SMALLEST_LABEL_PCT = 0.1


@dataclass(frozen=True, slots=True)
class LabelPercent:
    """A percentage as a curing salt's label prints it: 6.25 for a US mix, never 0.0625.

    The sums take this type and no bare number, so that 6.25 cannot be used as the fraction.
    Raises InputError outside 0.1 to 100.
    """

    on_label_pct: float

    def __post_init__(self) -> None:
        if 0.0 < self.on_label_pct < SMALLEST_LABEL_PCT:
            raise InputError(
                f"{self.on_label_pct:g} looks like a fraction; that would be"
                f" {self.on_label_pct * 100.0:g} %. Enter the percentage as the label prints it,"
                " 6.25 for a US mix."
            )
        require_within("the label's percentage", self.on_label_pct, SMALLEST_LABEL_PCT, 100.0)

    @property
    def fraction_ratio(self) -> float:
        """The same as a share of one."""
        return self.on_label_pct / 100.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CuringSalt:
    """A curing salt by its label; `nitrate` is None in a mix without it; the rest is salt.

    Raises InputError where nitrite and nitrate exceed 100 %. US mixes #1 and #2 are not
    interchangeable; always take the percentage from the label.
    """

    name: str
    nitrite: LabelPercent
    nitrate: LabelPercent | None = None

    def __post_init__(self) -> None:
        require_within(f"the salt in {self.name}, in %,", self.salt_pct, 0.0, 100.0)

    @property
    def salt_pct(self) -> float:
        """Sodium chloride, % of weight."""
        nitrate_pct = self.nitrate.on_label_pct if self.nitrate else 0.0
        return 100.0 - self.nitrite.on_label_pct - nitrate_pct


CURE_1 = CuringSalt(name="US cure #1", nitrite=LabelPercent(6.25))
CURE_2 = CuringSalt(name="US cure #2", nitrite=LabelPercent(6.25), nitrate=LabelPercent(4.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Working:
    """How a curing sum was done: the formula in words, and its inputs by name and unit."""

    what: str
    formula: str
    inputs: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Ingoing:
    """A concentration on the green weight of the meat, with its working."""

    result_ppm: float
    working: Working


@dataclass(frozen=True, slots=True)
class Dose:
    """A weight to put in, with its working."""

    result_g: float
    working: Working


@dataclass(frozen=True, slots=True)
class Share:
    """A percentage of the green weight of the meat, with its working."""

    result_pct: float
    working: Working


def _working(what: str, formula: str, **inputs: float) -> Working:
    return Working(what=what, formula=formula, inputs=MappingProxyType(inputs))


def _check_weights(added_g: float, meat_green_g: float) -> None:
    require_within("the weight added, in grams,", added_g, 0.0, float("inf"))
    require_above_zero("the green weight of the meat in grams", meat_green_g)


def ingoing_nitrite(curing_salt: CuringSalt, curing_salt_g: float, meat_green_g: float) -> Ingoing:
    """Ingoing sodium nitrite, ppm on the meat's green weight; InputError for unusable weights."""
    _check_weights(curing_salt_g, meat_green_g)
    return Ingoing(
        curing_salt_g * curing_salt.nitrite.fraction_ratio * 1e6 / meat_green_g,
        _working(
            "ingoing sodium nitrite",
            "curing salt x nitrite % of its label / 100 x 1,000,000 / green weight of the meat",
            curing_salt_g=curing_salt_g,
            label_nitrite_pct=curing_salt.nitrite.on_label_pct,
            meat_green_g=meat_green_g,
        ),
    )


def ingoing_nitrate(curing_salt: CuringSalt, curing_salt_g: float, meat_green_g: float) -> Ingoing:
    """Ingoing sodium nitrate, ppm on the meat's green weight; 0 for a mix without nitrate.

    Raises InputError for unusable weights.
    """
    _check_weights(curing_salt_g, meat_green_g)
    nitrate = curing_salt.nitrate
    return Ingoing(
        curing_salt_g * (nitrate.fraction_ratio if nitrate else 0.0) * 1e6 / meat_green_g,
        _working(
            "ingoing sodium nitrate",
            "curing salt x nitrate % of its label / 100 x 1,000,000 / green weight of the meat",
            curing_salt_g=curing_salt_g,
            label_nitrate_pct=nitrate.on_label_pct if nitrate else 0.0,
            meat_green_g=meat_green_g,
        ),
    )


def curing_salt_for(curing_salt: CuringSalt, wanted_ppm: float, meat_green_g: float) -> Dose:
    """Grams of curing salt for a wanted ingoing nitrite; InputError for unusable figures."""
    require_within("the wanted nitrite in ppm", wanted_ppm, 0.0, 1e4)
    require_above_zero("the green weight of the meat in grams", meat_green_g)
    return Dose(
        wanted_ppm * meat_green_g / (curing_salt.nitrite.fraction_ratio * 1e6),
        _working(
            f"{curing_salt.name} to weigh out",
            "wanted ppm x green weight of the meat / (nitrite % of the label / 100 x 1,000,000)",
            wanted_ppm=wanted_ppm,
            meat_green_g=meat_green_g,
            label_nitrite_pct=curing_salt.nitrite.on_label_pct,
        ),
    )


def ingoing_erythorbate(erythorbate_g: float, meat_green_g: float) -> Ingoing:
    """Erythorbate or ascorbate, ppm on the meat's green weight; InputError for unusable weights."""
    _check_weights(erythorbate_g, meat_green_g)
    return Ingoing(
        erythorbate_g * 1e6 / meat_green_g,
        _working(
            "ingoing erythorbate or ascorbate",
            "erythorbate x 1,000,000 / green weight of the meat",
            erythorbate_g=erythorbate_g,
            meat_green_g=meat_green_g,
        ),
    )


def salt_on_meat(
    plain_salt_g: float, curing_salt: CuringSalt, curing_salt_g: float, meat_green_g: float
) -> Share:
    """Salt as such and in the curing salt, % of the meat's green weight.

    Raises InputError for unusable weights.
    """
    _check_weights(plain_salt_g, meat_green_g)
    _check_weights(curing_salt_g, meat_green_g)
    return Share(
        (100.0 * plain_salt_g + curing_salt_g * curing_salt.salt_pct) / meat_green_g,
        _working(
            "salt on the meat",
            "(salt + curing salt x its salt % / 100) x 100 / green weight of the meat",
            plain_salt_g=plain_salt_g,
            curing_salt_g=curing_salt_g,
            curing_salt_salt_pct=curing_salt.salt_pct,
            meat_green_g=meat_green_g,
        ),
    )
