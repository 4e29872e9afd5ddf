"""What a forecast is asked and what it answers: plain data for the child, the store and the page.

Hours count from when the group was hung. Yields are ratios on green weight unless a name says
otherwise. Nothing here computes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class AirSeen:
    """Measured air where the group hung at a moment; a stretch without any is a gap."""

    at_h: float
    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AirPlanned:
    """Air expected from a moment on, until the next of these."""

    from_h: float
    temperature_c: float
    humidity_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TaggedStick:
    """A stick that is weighed; `hang_weight_g` is None where it was not weighed when hung."""

    tag: str
    green_weight_g: float
    hang_weight_g: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """What hands told of one stick at a moment; `squeeze` from 1, soft, to 5, hard.

    `weight_g` None: not weighed then. Only there do diameter and squeeze count, as weak evidence.
    """

    at_h: float
    tag: str
    weight_g: float | None = None
    diameter_mm: float | None = None
    squeeze: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """A log-normal belief in a quantity above zero, in the quantity's own unit."""

    median: float
    ln_sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Beliefs:
    """What is believed of a room and a recipe before, or after, a batch was weighed.

    `transfer_kg_per_m2_s_pa`: through casing and air film. `diffusivity_m2_per_s`: in the meat at
    12 degC.
    """

    transfer_kg_per_m2_s_pa: Belief
    diffusivity_m2_per_s: Belief


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Everything one group's forecast is made from.

    `sticks_in_group` counts the untagged ones too. `water_fraction` is the water's share of the
    weight as hung. `diameter_mm` as hung; `diameter_measured`: by caliper, else the casing's.
    `beliefs` None: the published ones. `scale_sd_g`: standard deviation of one reading.
    """

    tagged: tuple[TaggedStick, ...]
    sticks_in_group: int
    target_yield_ratio: float
    water_fraction: float
    diameter_mm: float
    diameter_measured: bool
    scale_sd_g: float
    now_h: float
    air: tuple[AirSeen, ...]
    plan: tuple[AirPlanned, ...]
    weighings: tuple[Weighing, ...] = ()
    water_phase_salt_pct: float | None = None
    beliefs: Beliefs | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StickNow:
    """A tagged stick at this moment, weighed or not: yield and its standard deviation."""

    tag: str
    yield_ratio: float
    yield_sd_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """The group's mean yield at a moment: 10, 50 and 90 of 100 lie below."""

    at_h: float
    low_ratio: float
    middle_ratio: float
    high_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something the keeper must know about a forecast: a code with its figures.

    The sentences stand in `hangroom.product.forecast_words`.
    """

    code: str
    figures: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """One group's forecast.

    `p10_h` to `p90_h`: when 10, 50, 90 of 100 will have reached the target, None where so many
    never do at the planned humidity; `never_pct` of them. `surface_to_core_ratio`: water per dry
    matter at the surface over that in the core, now; `least_surface_to_core_ratio`: the lowest on
    the way to the target. `surface_aw`, `core_aw`: water activities, no unit, now. `hung_ratio`:
    weight as hung over green weight. `beliefs`: after the weighings. `ms`: what it took.
    """

    now_h: float
    target_yield_ratio: float
    hung_ratio: float
    yield_ratio: float
    yield_sd_ratio: float
    p10_h: float | None
    p50_h: float | None
    p90_h: float | None
    never_pct: float
    loss_pct_per_day: float
    surface_to_core_ratio: float
    least_surface_to_core_ratio: float
    surface_aw: float
    core_aw: float
    effective_particles: float
    sticks: tuple[StickNow, ...]
    curve: tuple[CurvePoint, ...]
    beliefs: Beliefs
    remarks: tuple[Remark, ...]
    ms: float
