"""What a group is made of today, at its target and at any yield: estimates, and said to be that.

Pure. Reckoned from the recipe and the weights; water activity comes as a range with the limits it
holds in. None of it answers a check.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean

from markupsafe import Markup

from hangroom.errors import InputError
from hangroom.product.geometry import Size
from hangroom.product.progress import (
    AS_STUFFED,
    ExpectedSize,
    Progress,
    Start,
    progress_at,
    yield_at_ratio,
)
from hangroom.product.recipe import Recipe
from hangroom.product.water_activity import (
    FIT_HIGHEST_MPR_RATIO,
    FIT_HIGHEST_SALT_PCT,
    FIT_LOWEST_MPR_RATIO,
    FIT_LOWEST_SALT_PCT,
    FIT_SOURCE,
    Estimate,
    Outside,
)
from hangroom.product.yields import Base, BaseWeights, Yield, on_every_base
from hangroom.store.batches import Batch, Group
from hangroom.units import Units, length_shown, typed_number
from hangroom_web.draw.composition import AtYield, draw_composition
from hangroom_web.words import _

BASES: Mapping[Base, str] = {
    Base.GREEN: _("of green weight"),
    Base.COOKED: _("of cooked weight"),
    Base.HUNG: _("of hung weight"),
}
NO_WEIGHT: Mapping[Base, str] = {
    Base.GREEN: _("no green weight"),
    Base.COOKED: _("no cooked weight"),
    Base.HUNG: _("no hung weight"),
}

# How far below the lowest yield of interest picture and table go on, and the table's step, in %.
BEYOND_PCT, STEP_PCT = 8, 5

LIMITS = _(
    "Worked out from the recipe and the weights. All that was lost is taken as water, save fat "
    "that was said to drip. Water activity is a range, and only where measured products stand "
    "behind it: moisture:protein {ratio_low:g} to {ratio_high:g}, water-phase salt {salt_low:g} to "
    "{salt_high:g} %. Most of those were fermented, acidified or sugared, so a plain stick may lie "
    "above the range. An estimate never answers a check. Fit: {source}."
).format(
    ratio_low=FIT_LOWEST_MPR_RATIO,
    ratio_high=FIT_HIGHEST_MPR_RATIO,
    salt_low=FIT_LOWEST_SALT_PCT,
    salt_high=FIT_HIGHEST_SALT_PCT,
    source=FIT_SOURCE.cites,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """The makeup at one yield, each figure in words; `mark` says what is special about it."""

    mark: str
    yields: Mapping[Base, str]
    facts: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A group's makeup; `fault` says why there is none, `wanted` answers the ratio asked for."""

    columns: Sequence[Column] = ()
    rows: Sequence[Column] = ()
    picture: Markup = Markup("")  # noqa: RUF009 - Markup is a str, and never changes
    outside: Sequence[str] = ()
    wanted: str = ""
    fault: str = ""


def weights_of(group: Group) -> BaseWeights:
    """Return the weights of a mean tagged stick; cooked and hung by the share of those weighed."""
    if not group.tagged:
        return BaseWeights()
    green_g = fmean(stick.green_weight_g for stick in group.tagged)

    def mean_g(taken: Sequence[tuple[float, float | None]]) -> float | None:
        known = [(then_g, now_g) for then_g, now_g in taken if now_g is not None]
        if not known:
            return None
        return green_g * sum(now_g for _g, now_g in known) / sum(then_g for then_g, _g in known)

    return BaseWeights(
        green_g=green_g,
        cooked_g=mean_g([(s.green_weight_g, s.cooked_weight_g) for s in group.tagged]),
        hung_g=mean_g([(s.green_weight_g, s.hang_weight_g) for s in group.tagged]),
    )


def start_of(batch: Batch, group: Group, recipe: Recipe) -> Start:
    """Return what the group's way is reckoned from.

    Raises InputError where fat dripped but the weights to spread it by are missing.
    """
    weights = weights_of(group)
    measured = [
        Size(diameter_mm=stick.hang_diameter_mm, length_mm=stick.length_mm)
        for stick in group.tagged
        if stick.hang_diameter_mm is not None and stick.length_mm is not None
    ]
    size = None
    if measured and weights.hung_g is not None:
        size = Size(
            diameter_mm=fmean(one.diameter_mm for one in measured),
            length_mm=fmean(one.length_mm for one in measured),
        )
    return Start(
        green=recipe.green,
        weights=weights,
        fat_drip_g=batch.fat_drip_g or 0.0,
        size=size,
        size_at=Yield(ratio=1.0, base=Base.HUNG) if size else AS_STUFFED,
    )


def say_yields(yield_pct: float | None, weights: BaseWeights) -> Mapping[Base, str]:
    """Return a yield on green weight on all three bases in words; what is missing is named."""
    if yield_pct is None:
        return dict.fromkeys(Base, _("not weighed"))
    known = on_every_base(Yield(ratio=yield_pct / 100.0, base=Base.GREEN), weights)
    return {
        base: f"{100.0 * known[base].ratio:.1f} %" if base in known else NO_WEIGHT[base]
        for base in Base
    }


def made_of(
    batch: Batch,
    group: Group,
    recipe: Recipe | None,
    *,
    now_pct: float | None,
    wanted: str,
    units: Units,
) -> Made:
    """Return a group's makeup over its yield; `wanted` is the ratio that somebody typed, or ''."""
    if recipe is None:
        return Made()
    marks = {_("at its target"): group.target_yield_pct}
    if now_pct is not None:
        marks = {_("when last weighed"): now_pct, **marks}
    try:
        start = start_of(batch, group, recipe)
        columns = [
            _column(_at(start, pct), mark, weights=start.weights, units=units)
            for mark, pct in marks.items()
        ]
    except InputError as fault:
        return Made(fault=_("What it is made of cannot be worked out. {fault}").format(fault=fault))
    low_pct = STEP_PCT * ((min(marks.values()) - BEYOND_PCT) // STEP_PCT)
    along = list(_along(start, low_pct))
    every: list[tuple[float, Progress, str]] = [
        (pct, at, "") for pct, at in along if pct % STEP_PCT == 0
    ]
    every += [(pct, _at(start, pct), mark) for mark, pct in marks.items()]
    every.sort(key=lambda one: -one[0])
    return Made(
        columns=columns,
        rows=[_column(at, mark, weights=start.weights, units=units) for _pct, at, mark in every],
        picture=draw_composition(
            [_drawn(pct, at) for pct, at in along],
            now=None if now_pct is None else _drawn(now_pct, _at(start, now_pct)),
            target=_drawn(group.target_yield_pct, _at(start, group.target_yield_pct)),
            title=group.letter,
        ),
        outside=list(
            dict.fromkeys(
                at.aw.reason for _p, at, mark in every if mark and isinstance(at.aw, Outside)
            )
        ),
        wanted=_say_wanted(start, wanted) if wanted.strip() else "",
    )


def _at(start: Start, yield_pct: float) -> Progress:
    return progress_at(start, Yield(ratio=yield_pct / 100.0, base=Base.GREEN))


def _along(start: Start, low_pct: float) -> Iterator[tuple[int, Progress]]:
    """Yield the way from green down, each per cent, until the water is at an end."""
    for pct in range(100, round(low_pct) - 1, -1):
        try:
            yield pct, _at(start, pct)
        except InputError:
            return


def _drawn(yield_pct: float, at: Progress) -> AtYield:
    return AtYield(
        yield_pct=yield_pct,
        water_pct=at.made.water_pct,
        moisture_protein_ratio=at.made.moisture_protein_ratio,
        aw=(at.aw.low_aw, at.aw.high_aw) if isinstance(at.aw, Estimate) else None,
    )


def _column(at: Progress, mark: str, *, weights: BaseWeights, units: Units) -> Column:
    return Column(
        mark=mark,
        yields=say_yields(100.0 * at.kept[Base.GREEN].ratio, weights),
        facts={
            **say_makeup(at),
            **({} if at.size is None else _say_size(at.size, units)),
        },
    )


def say_makeup(at: Progress) -> Mapping[str, str]:
    """Return what a batch is made of at one yield, each figure by its name, as estimated."""
    made = at.made
    brine_pct, ratio = made.water_phase_salt_pct, made.moisture_protein_ratio
    return {
        _("Water"): f"{made.water_pct:.1f} %",
        _("Protein"): f"{made.protein_pct:.1f} %",
        _("Fat"): f"{made.fat_pct:.1f} %",
        _("Salt"): f"{made.salt_pct:.2f} %",
        _("Water-phase salt"): "" if brine_pct is None else f"{brine_pct:.2f} %",
        _("Moisture:protein"): "" if ratio is None else f"{ratio:.2f}",
        _("Water activity"): say_aw(at.aw),
    }


def say_aw(aw: Estimate | Outside) -> str:
    """Return for example '0.91 to 0.93', or that there is none."""
    if isinstance(aw, Outside):
        return _("no estimate")
    low, high = f"{aw.low_aw:.2f}", f"{aw.high_aw:.2f}"
    return low if low == high else _("{low} to {high}").format(low=low, high=high)


def _say_size(size: ExpectedSize, units: Units) -> Mapping[str, str]:
    decimals = 1 if units.length == "mm" else 2

    def between(one_mm: float, other_mm: float, places: int) -> str:
        low, high = (f"{length_shown(mm, units):.{places}f}" for mm in sorted((one_mm, other_mm)))
        return f"{low} {units.length}" if low == high else f"{low} to {high} {units.length}"

    across, all_round = size.across_only, size.all_round
    return {
        _("Across, expected"): between(across.diameter_mm, all_round.diameter_mm, decimals),
        _("Length, expected"): between(across.length_mm, all_round.length_mm, decimals - 1),
    }


def _say_wanted(start: Start, typed: str) -> str:
    """Return at which yield a moisture:protein ratio is reached, or what is wrong with it."""
    try:
        wanted_ratio = typed_number(typed, what=_("ratio"))
        on_green = yield_at_ratio(start, wanted_ratio)
    except InputError as fault:
        return str(fault)
    if on_green is None:
        return _("The green batch already lies at or below {ratio:g}.").format(ratio=wanted_ratio)
    on_bases = on_every_base(on_green, start.weights)
    return _("Moisture:protein {ratio:g} is reached at {yields}.").format(
        ratio=wanted_ratio,
        yields=", ".join(
            f"{100.0 * kept.ratio:.1f} % {BASES[base]}" for base, kept in on_bases.items()
        ),
    )
