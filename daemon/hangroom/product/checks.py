"""Everything recorded of one group, against every published figure, in the order of its making.

Only what was weighed or measured answers a check. Water-phase salt worked out from the recipe, the
estimated water activity and the integrated lethality are estimates, and none of them does.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from hangroom.product.cooking import (
    SmokerHumidity,
    judge_cook,
    judge_smoker_humidity,
    judge_trichinae,
    judge_warming,
)
from hangroom.product.cooling import Cure, judge_cooling
from hangroom.product.findings import Answer, Finding, Source, Standing
from hangroom.product.kept import Kept, judge_kept
from hangroom.product.lethality import equivalent_holds_s
from hangroom.product.raw_sticks import judge_raw
from hangroom.product.recipe import Recipe, curing_sums, judge_recipe
from hangroom.product.stays import Measurement, Stay, known_at
from hangroom.product.storage import Packing
from hangroom.product.temperatures import Point, celsius, in_both, in_order


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What was recorded of one group; empty or None where nothing was.

    All moments are seconds since one fixed moment. `cook` and `chill` are core readings of the
    coldest stick; `smoker` is the air of the cook, part by part.
    """

    recipe: Recipe | None = None
    smoker: tuple[SmokerHumidity, ...] = ()
    cook: tuple[Point, ...] = ()
    cook_end_s: float | None = None
    chill: tuple[Point, ...] = ()
    stays: tuple[Stay, ...] = ()
    measurements: tuple[Measurement, ...] = ()
    packing: Packing = Packing.OPEN


@dataclass(frozen=True, slots=True, kw_only=True)
class Information:
    """A figure to know, which answers no check."""

    what: str
    said: str
    source: Source


@dataclass(frozen=True, slots=True, kw_only=True)
class Checks:
    """Findings by the part of the making that they belong to, and what is only to be known."""

    cure: tuple[Finding, ...]
    raw: tuple[Finding, ...]
    cook: tuple[Finding, ...]
    chill: tuple[Finding, ...]
    kept: Kept
    information: tuple[Information, ...]

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Every finding, in the order of the making."""
        return (*self.cure, *self.raw, *self.cook, *self.chill, *self.kept.findings)


def check(record: Record) -> Checks:
    """Judge a group's record; raises InputError for series out of order or stays that overlap."""
    cook, chill = in_order(record.cook), in_order(record.chill)
    # A logger often runs on into the bath, and a probe of the chill may have been in before.
    core = (*cook, *(point for point in chill if not cook or point.at_s > cook[-1].at_s))
    return Checks(
        cure=judge_recipe(record.recipe),
        raw=(judge_raw(record.stays), judge_warming(core)),
        cook=(
            *_judge_cook(core, record.recipe),
            judge_trichinae(core),
            judge_smoker_humidity(record.smoker),
        ),
        chill=judge_cooling(_from_warmest(core), cook_end_s=record.cook_end_s, cure=_cure(record)),
        kept=judge_kept(record.stays, record.measurements, record.packing),
        information=_lethality(core, record.recipe),
    )


def _judge_cook(core: Sequence[Point], recipe: Recipe | None) -> tuple[Finding, ...]:
    if recipe is not None:
        return judge_cook(core, poultry=recipe.poultry)
    return tuple(
        replace(
            finding,
            answer=Answer.NOT_SHOWN,
            because=(
                f"{finding.because} The recipe is not on record, and this table does not hold for"
                " poultry."
            ),
            would_settle="The recipe's meats.",
        )
        if finding.answer is Answer.MET
        else finding
        for finding in judge_cook(core, poultry=False)
    )


def _from_warmest(core: Sequence[Point]) -> Sequence[Point]:
    """The readings from the last of the warmest on: the way down."""
    warmest = max(range(len(core)), key=lambda place: (core[place].temperature_c, place), default=0)
    return core[warmest:]


def _cure(record: Record) -> Cure:
    sums = None if record.recipe is None else curing_sums(record.recipe)
    nitrite = None if sums is None else sums.nitrite
    erythorbate = None if sums is None else sums.erythorbate
    return Cure(
        nitrite_ppm=None if nitrite is None else nitrite.result_ppm,
        erythorbate_ppm=None if erythorbate is None else erythorbate.result_ppm,
        measured_aw=known_at(record.measurements, float("inf")).aw,
    )


# The line through the 6.5-log column of the table, 130 to 157 degF, by least squares.
LETHALITY_REFERENCE_F = 140
LETHALITY_D_S = 1.77 * 60.0
LETHALITY_Z_K = 10.01 / 1.8
LETHALITY_SOURCE = Source(
    "fit to the 6.5-log column of FSIS Appendix A, 130 to 157 °F: z 10.01 °F, D 1.77 min at 140 °F",
    Standing.CALCULATED,
)
# The column's own claim; the line says nothing beyond it.
LETHALITY_MOST_LOG = 6.5


def _lethality(core: Sequence[Point], recipe: Recipe | None) -> tuple[Information, ...]:
    if len(core) <= 1 or (recipe is not None and recipe.poultry):
        return ()
    held_s = equivalent_holds_s(
        core, reference_c=celsius(LETHALITY_REFERENCE_F), z_k=LETHALITY_Z_K
    )[-1]
    reduction_log = held_s / LETHALITY_D_S
    reduction = (
        f"{reduction_log:.1f} log"
        if reduction_log <= LETHALITY_MOST_LOG
        else f"more than {LETHALITY_MOST_LOG:g} log"
    )
    return (
        Information(
            what="heat summed over the whole way up and down",
            said=(
                f"As much as {held_s / 60.0:.1f} min at {in_both(LETHALITY_REFERENCE_F)}, or"
                f" {reduction} by the slope of the meat table. For information only: crediting the"
                " way up and down is a process authority's calculation, and no check here uses it."
            ),
            source=LETHALITY_SOURCE,
        ),
    )
