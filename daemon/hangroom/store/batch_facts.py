"""What is said of a batch, a group and a stick when they are entered, and what is refused at once.

Owns no table: `hangroom.store.batches` stores these, `hangroom.store.record.edits` corrects them.
"""

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from hangroom.errors import InputError
from hangroom.store.checks import (
    ZERO_OR_MORE,
    check_aware,
    check_number,
    check_text,
    check_weight,
    check_whole,
)

MOST_STICKS = 100_000
TARGET_YIELD_PCT = (20.0, 100.0)
THICKEST_MM = 200.0
LONGEST_STICK_MM = 5000.0


class CasingKind(StrEnum):
    """What the sticks are stuffed into."""

    COLLAGEN = "collagen"
    NATURAL = "natural"
    CELLULOSE = "cellulose"
    FIBROUS = "fibrous"
    ALGINATE = "alginate"


class SurfaceFinding(StrEnum):
    """What hands, eyes and nose find on a stick."""

    MOULD = "mould"
    SLIME = "slime"
    OFF_SMELL = "off-smell"
    DRIP = "drip"
    INSECTS = "insects"


def surface_stored(found: Collection[SurfaceFinding] | None) -> str | None:
    """Return surface findings as the tables hold them; None is: not looked at."""
    return None if found is None else json.dumps(sorted(found))


def surface_read(stored: str | None) -> frozenset[SurfaceFinding] | None:
    """Return surface findings from what the tables hold."""
    return None if stored is None else frozenset(map(SurfaceFinding, json.loads(stored)))


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupName:
    """How the keeper calls a group: batch 3, group B."""

    batch: int
    letter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchFacts:
    """What is said of a batch as a whole; `green_weight_g` is all that was stuffed.

    `fat_drip_g` is the fat that dripped from all of it in the cook, the casing's diameter the
    nominal one. Raises InputError for what cannot be.
    """

    name: str
    started_at: datetime
    note: str = ""
    green_weight_g: float | None = None
    fat_drip_g: float | None = None
    casing: CasingKind | None = None
    casing_diameter_mm: float | None = None

    def __post_init__(self) -> None:
        check_text("batch's name", self.name, needed=True)
        check_aware("batch's start", self.started_at)
        check_text("note", self.note)
        if self.green_weight_g is not None:
            check_weight("batch's green weight", self.green_weight_g)
        if self.fat_drip_g is not None:
            check_number("fat that dripped, in grams,", self.fat_drip_g, ZERO_OR_MORE)
        if self.casing_diameter_mm is not None:
            check_number(
                "casing's diameter in mm", self.casing_diameter_mm, (0.0, THICKEST_MM), above=True
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class NewStick:
    """A tagged stick as it is entered. Raises InputError for what cannot be."""

    tag: str
    green_weight_g: float
    cooked_weight_g: float | None = None
    hang_weight_g: float | None = None
    hang_diameter_mm: float | None = None
    length_mm: float | None = None

    def __post_init__(self) -> None:
        check_text("tag", self.tag, needed=True, longest=40)
        check_weight(f"green weight of {self.tag}", self.green_weight_g)
        for what, weight_g in (
            ("cooked", self.cooked_weight_g),
            ("hang", self.hang_weight_g),
        ):
            if weight_g is not None:
                check_weight(f"{what} weight of {self.tag}", weight_g)
        for what, across_mm, most_mm in (
            ("diameter", self.hang_diameter_mm, THICKEST_MM),
            ("length", self.length_mm, LONGEST_STICK_MM),
        ):
            if across_mm is not None:
                what_mm = f"{what} of {self.tag} in mm"
                check_number(what_mm, across_mm, (0.0, most_mm), above=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupFacts:
    """What is said of a group; `target_yield_pct` is on green weight, `sticks` counts them all.

    `like`: the tasted group that this one shall become as dry as. Raises InputError for what
    cannot be.
    """

    letter: str
    finish: str
    target_yield_pct: float
    sticks: int
    like: GroupName | None = None

    def __post_init__(self) -> None:
        check_text("group's letter", self.letter, needed=True, longest=8)
        check_text("group's finish", self.finish, needed=True)
        check_number("target yield in %", self.target_yield_pct, TARGET_YIELD_PCT)
        check_whole("number of sticks", self.sticks, (1, MOST_STICKS))


@dataclass(frozen=True, slots=True, kw_only=True)
class NewGroup(GroupFacts):
    """A group as it is entered; `room` and `hung_at` are None while it does not hang yet."""

    tagged: Sequence[NewStick]
    room: str | None = None
    hung_at: datetime | None = None

    def __post_init__(self) -> None:
        GroupFacts.__post_init__(self)
        if (self.room is None) != (self.hung_at is None):
            raise InputError(
                f"Group {self.letter} needs both a room and the time it was hung there, or neither."
                " Nothing was stored."
            )
