"""Finishes that were reached and tasted: two side by side, and one as another batch's target."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from hangroom.product.composition import Makeup, yield_at_moisture_protein_ratio
from hangroom.product.progress import NOTHING_WEIGHED, Progress, Start, progress_at
from hangroom.product.yields import Base, BaseWeights, Yield, on_every_base, rebased


@dataclass(frozen=True, slots=True, kw_only=True)
class FinishProfile:
    """A group as it was pulled and tasted; None where nothing is on record.

    `name` is how the keeper calls it, such as 'batch 3, group B'. `green` is the makeup of its
    whole green batch and `fat_drip_g` what dripped from that; `squeeze` is from 1 to 5, the air the
    mean of its stay.
    """

    name: str
    kept: Yield
    weights: BaseWeights = NOTHING_WEIGHED
    hung_h: float | None = None
    squeeze: int | None = None
    air_temperature_c: float | None = None
    air_humidity_pct: float | None = None
    rating: int | None = None
    green: Makeup | None = None
    fat_drip_g: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """A profile with its yield on every base known, and its composition as estimated.

    `made` is None without a recipe, or without the weights that tie its yield to the green weight.
    """

    profile: FinishProfile
    kept: Mapping[Base, Yield]
    made: Progress | None


def finish(profile: FinishProfile) -> Finish:
    """Work a profile out; raises InputError where more was lost than its recipe holds."""
    kept = on_every_base(profile.kept, profile.weights)
    made = None
    if profile.green is not None and Base.GREEN in kept:
        start = Start(green=profile.green, weights=profile.weights, fat_drip_g=profile.fat_drip_g)
        made = progress_at(start, kept[Base.GREEN])
    return Finish(profile=profile, kept=kept, made=made)


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """Two finishes side by side.

    `drier_pct`: how much lower the second's yield is, in points, on each base known for both.
    """

    first: Finish
    second: Finish
    drier_pct: Mapping[Base, float]


def side_by_side(first: FinishProfile, second: FinishProfile) -> Compared:
    """Compare two groups, never across bases; raises InputError as `finish`."""
    one, other = finish(first), finish(second)
    return Compared(
        first=one,
        second=other,
        drier_pct=MappingProxyType(
            {
                base: 100.0 * (one.kept[base].ratio - other.kept[base].ratio)
                for base in Base
                if base in one.kept and base in other.kept
            }
        ),
    )


class Likeness(StrEnum):
    """By what two groups count as equally dry."""

    RATIO = "equal moisture:protein ratio"
    YIELD = "equal yield on green weight"


@dataclass(frozen=True, slots=True, kw_only=True)
class LikeTarget:
    """A target yield on green weight that makes a group as dry as another, and by what."""

    kept: Yield
    by: Likeness
    because: str


def as_dry_as(profile: FinishProfile, green: Makeup | None) -> LikeTarget:
    """Target for a batch of makeup `green` that is to be as dry as a profile.

    By moisture:protein ratio where both recipes are known, else by yield. Raises InputError where
    the profile's yield cannot be restated on green weight, for a batch without protein, or as
    `finish`.
    """
    on_green = (
        profile.kept
        if profile.kept.base is Base.GREEN
        else rebased(profile.kept, profile.weights, Base.GREEN)
    )
    made = finish(profile).made
    ratio = None if made is None else made.made.moisture_protein_ratio
    if ratio is None:
        why_not = f"the recipe of {profile.name} is not on record"
    elif green is None:
        why_not = "this batch's recipe is not on record"
    else:
        target = yield_at_moisture_protein_ratio(green, ratio)
        if target is not None:
            return LikeTarget(
                kept=target,
                by=Likeness.RATIO,
                because=(
                    f"{profile.name} ended at {100.0 * on_green.ratio:.1f} % of its green weight,"
                    f" which is {ratio:.2f} parts of water to one of protein. This recipe gets"
                    f" there at {100.0 * target.ratio:.1f} %, fat that drips not reckoned."
                ),
            )
        why_not = "this recipe holds no more water to its protein when green"
    return LikeTarget(
        kept=on_green,
        by=Likeness.YIELD,
        because=(
            f"{profile.name} ended at {100.0 * on_green.ratio:.1f} % of its green weight. Taken"
            f" over as it is, because {why_not}; a leaner mix is then moister, a fatter one drier."
        ),
    )
