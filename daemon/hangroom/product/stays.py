"""A group's stays in rooms, one after another, and what was measured of it when."""

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from hangroom.errors import InputError
from hangroom.product.inputs import require_within
from hangroom.product.storage import Measured, Warmth
from hangroom.product.temperatures import Point


class StickState(StrEnum):
    """Whether sticks had been cooked when they hung."""

    RAW = "raw"
    COOKED = "cooked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """Sticks in one room from a moment to a moment, s, with the air around them.

    `points` may begin before and end after the stay; the readings nearest to it speak for its
    edges. Raises InputError where it ends before it starts.
    """

    from_s: float
    to_s: float
    state: StickState
    points: tuple[Point, ...] = ()

    def __post_init__(self) -> None:
        require_within("the length of the stay in s", self.to_s - self.from_s, 0.0, float("inf"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """Water activity, pH or both, measured on a stick of the group at a moment, s."""

    at_s: float
    measured: Measured


def known_at(measurements: Iterable[Measurement], at_s: float) -> Measured:
    """Newest measured water activity and pH at a moment; each None where never measured by then."""
    known = Measured()
    for each in sorted(measurements, key=lambda one: one.at_s):
        if each.at_s <= at_s:
            known = Measured(
                aw=known.aw if each.measured.aw is None else each.measured.aw,
                ph=known.ph if each.measured.ph is None else each.measured.ph,
            )
    return known


def in_turn(stays: Iterable[Stay], state: StickState) -> tuple[Stay, ...]:
    """Stays of the sticks in one state, first to last, each move between two as one without air.

    Raises InputError where two overlap: sticks hang in one room at a time.
    """
    rooms = sorted((stay for stay in stays if stay.state is state), key=lambda stay: stay.from_s)
    turn = rooms[:1]
    for number, (earlier, later) in enumerate(itertools.pairwise(rooms), start=2):
        if later.from_s < earlier.to_s:
            raise InputError(
                f"Stay {number} of the {state} sticks begins"
                f" {(earlier.to_s - later.from_s) / 3600.0:.1f} h before the one before it ends."
                " Sticks hang in one room at a time: check when they were moved, or judge each"
                " group by itself."
            )
        turn += [Stay(from_s=earlier.to_s, to_s=later.from_s, state=state), later]
    return tuple(turn)


def summed(hours: Iterable[Warmth]) -> Warmth:
    """Hours of several stays together."""
    every = tuple(hours)
    return Warmth(sum(one.warm_h for one in every), sum(one.unknown_h for one in every))
