"""What hands told of a group, look by look, as shares of the weight lost since hanging.

Sticks weighed within an hour of each other make one look; any of them may be missing from it. Where
a look has no weight at all, diameter and squeeze stand in as the weak evidence they are.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from hangroom.forecast.particles import Floats, HungRatio
from hangroom.product import drying_priors as priors
from hangroom.product.drying import VOLUME_PER_LOSS_RATIO
from hangroom.product.forecast import Question, Remark, TaggedStick, Weighing

ONE_LOOK_H = 1.0
LONGEST_LOOK_H = 3.0
NEWEST_KEPT, OLDER_KEPT = 12, 12
# How differently single sticks of a batch come out of the cook, as a ratio. Judgement.
COOK_SPREAD_RATIO = 0.01
# Beyond these a weight is a slip: a stick hardly takes up water, and its dry matter stays. The
# recipe's water may be off by some. Judgement.
HEAVIEST_RATIO, DRY_MATTER_LEAST_RATIO = 1.25, 0.75


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """A stick's yield on green when hung, None where it was not weighed, and what a reading errs.

    `reading_sd_ratio`: scale's error over the weight as hung; `base_sd_ratio`: that of the base.
    """

    hung_ratio: float | None
    reading_sd_ratio: float
    base_sd_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One look at a group.

    `yields_ratio`: on green weight, of each stick weighed. `weak_loss_ratio`: loss that diameter or
    squeeze tell where nothing was weighed, with its standard deviation.
    """

    at_h: float
    yields_ratio: Mapping[str, float]
    weak_loss_ratio: float | None = None
    weak_sd_ratio: float = 0.0


def hung_ratio_of(question: Question) -> HungRatio:
    """Return what is believed of hang over green weight, from the weights or from the trade."""
    known = [stick for stick in question.tagged if stick.hang_weight_g is not None]
    if not known:
        return HungRatio(
            mean_ratio=priors.HUNG_MEAN_RATIO, sd_ratio=priors.HUNG_SD_RATIO, weighed=False
        )
    green_g = sum(stick.green_weight_g for stick in known)
    hung_g = sum(stick.hang_weight_g or 0.0 for stick in known)
    # What the scale erred at hanging is told apart where the readings are compared; here it is
    # how the untagged sticks may have come out of the cook.
    untagged = max(question.sticks_in_group - len(known), 0) / max(question.sticks_in_group, 1)
    return HungRatio(
        mean_ratio=hung_g / green_g,
        sd_ratio=COOK_SPREAD_RATIO * sqrt(untagged / len(known)),
        weighed=True,
    )


def bases(question: Question) -> dict[str, Base]:
    """Return what each tagged stick's losses stand on."""
    return {stick.tag: _base(stick, question.scale_sd_g) for stick in question.tagged}


def looks_of(question: Question) -> tuple[tuple[Look, ...], tuple[Remark, ...]]:
    """Return the looks up to now, oldest first, and a remark for each weight that cannot be one."""
    sticks = {stick.tag: stick for stick in question.tagged}
    green_g = {stick.tag: stick.green_weight_g for stick in question.tagged}
    told, remarks = [], []
    for weighing in sorted(question.weighings, key=lambda weighing: weighing.at_h):
        if weighing.tag not in sticks or not 0.0 <= weighing.at_h <= question.now_h:
            continue
        if weighing.weight_g is None or _can_be(weighing.weight_g, sticks[weighing.tag], question):
            told.append(weighing)
            continue
        remarks.append(
            Remark(
                code="weight-impossible",
                figures={"tag": weighing.tag, "at_h": weighing.at_h, "weight_g": weighing.weight_g},
            )
        )
        told.append(replace(weighing, weight_g=None))
    looks: list[list[Weighing]] = []
    for weighing in told:
        last = looks[-1] if looks else []
        if (
            last
            and weighing.at_h - last[-1].at_h <= ONE_LOOK_H
            and weighing.at_h - last[0].at_h <= LONGEST_LOOK_H
        ):
            last.append(weighing)
        else:
            looks.append([weighing])
    made = (_look(each, green_g, question) for each in looks)
    return tuple(look for look in made if look is not None), tuple(remarks)


def thinned(looks: Sequence[Look]) -> tuple[Look, ...]:
    """Return at most 24 looks: the newest 12, and of the older ones evenly.

    Weights lie so near together by then that the model's own error hides what the rest would add,
    while the sums grow with the square of the looks and more.
    """
    older, newest = looks[:-NEWEST_KEPT], looks[-NEWEST_KEPT:]
    if len(older) <= OLDER_KEPT:
        return tuple(looks)
    chosen = {round(index * (len(older) - 1) / (OLDER_KEPT - 1)) for index in range(OLDER_KEPT)}
    return (*(older[index] for index in sorted(chosen)), *newest)


def _can_be(weight_g: float, stick: TaggedStick, question: Question) -> bool:
    """Whether a stick may weigh so much: neither far above as hung nor below its dry matter."""
    hung_g = stick.hang_weight_g or priors.HUNG_MEAN_RATIO * stick.green_weight_g
    dry_g = (1.0 - question.water_fraction) * hung_g
    return DRY_MATTER_LEAST_RATIO * dry_g <= weight_g <= HEAVIEST_RATIO * hung_g


def _base(stick: TaggedStick, scale_sd_g: float) -> Base:
    if stick.hang_weight_g is None:
        hung_g = priors.HUNG_MEAN_RATIO * stick.green_weight_g
        return Base(
            hung_ratio=None,
            reading_sd_ratio=scale_sd_g / hung_g,
            base_sd_ratio=COOK_SPREAD_RATIO,
        )
    sd_ratio = scale_sd_g / stick.hang_weight_g
    return Base(
        hung_ratio=stick.hang_weight_g / stick.green_weight_g,
        reading_sd_ratio=sd_ratio,
        # A scale so bad that the trade's usual cook loss says more than it does.
        base_sd_ratio=min(sd_ratio, priors.HUNG_SD_RATIO / priors.HUNG_MEAN_RATIO),
    )


def _look(
    weighings: Sequence[Weighing], green_g: Mapping[str, float], question: Question
) -> Look | None:
    weighed = [weighing for weighing in weighings if weighing.weight_g is not None]
    if weighed:
        yields: dict[str, list[float]] = {}
        for weighing in weighed:
            yields.setdefault(weighing.tag, []).append(
                (weighing.weight_g or 0.0) / green_g[weighing.tag]
            )
        return Look(
            at_h=float(np.mean([weighing.at_h for weighing in weighed])),
            yields_ratio={tag: float(np.mean(each)) for tag, each in yields.items()},
        )
    weak = [
        *_by_caliper(weighings, question),
        *(
            (priors.SQUEEZE_LOSS_RATIO[w.squeeze], priors.SQUEEZE_SD_RATIO)
            for w in weighings
            if w.squeeze in priors.SQUEEZE_LOSS_RATIO
        ),
    ]
    if not weak:
        return None
    # The best single piece counts: what makes one stick's diameter or squeeze mislead is common to
    # all of them, so that many are hardly worth more than one.
    best_sd_ratio = min(sd_ratio for _, sd_ratio in weak)
    return Look(
        at_h=float(np.mean([weighing.at_h for weighing in weighings])),
        yields_ratio={},
        weak_loss_ratio=float(np.mean([loss for loss, sd in weak if sd <= 1.01 * best_sd_ratio])),
        weak_sd_ratio=best_sd_ratio,
    )


def _by_caliper(weighings: Iterable[Weighing], question: Question) -> Iterable[tuple[float, float]]:
    """Yield loss and its standard deviation from diameters: volume as diameter^n, n 2.3 +- 0.3."""
    start_ln_sd_ratio = (
        priors.SPREADS.measured_radius_ln_sd_ratio
        if question.diameter_measured
        else priors.SPREADS.nominal_radius_ln_sd_ratio
    )
    shrinkage_ratio = priors.SHRINKAGE_MEAN_RATIO
    for weighing in weighings:
        if weighing.diameter_mm is None or not weighing.diameter_mm > 0.0:
            continue
        across_ratio = min(weighing.diameter_mm / question.diameter_mm, 1.2)
        left_ratio = across_ratio**shrinkage_ratio / VOLUME_PER_LOSS_RATIO
        by_exponent_ratio = left_ratio * abs(np.log(across_ratio)) * priors.SHRINKAGE_SD_RATIO
        by_start_ratio = left_ratio * shrinkage_ratio * start_ln_sd_ratio
        yield (
            1.0 / VOLUME_PER_LOSS_RATIO - left_ratio,
            float(np.sqrt(priors.CALIPER_SD_RATIO**2 + by_exponent_ratio**2 + by_start_ratio**2)),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """The looks as numbers: mean loss of the sticks of look j is `known[j] - by_hung[j] / c`.

    c is hang over green weight, which `by_hung` needs for sticks that were not weighed when hung.
    `shared[j, k]`: sum over sticks in both looks of 1 / (n_j n_k); `base[j, k]` the same with each
    stick's base variance; `noise[j]`: variance of a look by itself. `to_all[j]`: covariance of
    look j's base error with that of all tagged sticks' mean.
    """

    at_h: Floats
    known: Floats
    by_hung: Floats
    shared: Floats
    base: Floats
    noise: Floats
    to_all: Floats

    def losses(self, hung_ratio: Floats) -> Floats:
        """Mean loss of each look (rows) in each way of the drying (columns)."""
        return np.asarray(self.known[:, None] - self.by_hung[:, None] / hung_ratio)


def told(looks: Sequence[Look], stick_bases: Mapping[str, Base]) -> Told:
    """Turn looks into numbers for the likelihood."""
    count, tags = len(looks), list(stick_bases)
    part = np.zeros((count, len(tags)))
    known, by_hung, noise = np.zeros(count), np.zeros(count), np.zeros(count)
    handling_ratio = priors.SPREADS.reading_sd_ratio
    for j, look in enumerate(looks):
        noise[j] = handling_ratio**2
        if look.weak_loss_ratio is not None:
            known[j] = look.weak_loss_ratio
            noise[j] += look.weak_sd_ratio**2
            continue
        share = 1.0 / len(look.yields_ratio)
        for tag, yield_ratio in look.yields_ratio.items():
            base = stick_bases[tag]
            part[j, tags.index(tag)] = share
            noise[j] += (share * base.reading_sd_ratio) ** 2
            known[j] += share
            if base.hung_ratio is None:
                by_hung[j] += share * yield_ratio
            else:
                known[j] -= share * yield_ratio / base.hung_ratio
    variances = np.array([stick_bases[tag].base_sd_ratio ** 2 for tag in tags])
    return Told(
        at_h=np.array([look.at_h for look in looks]),
        known=known,
        by_hung=by_hung,
        shared=part @ part.T,
        base=(part * variances) @ part.T,
        noise=noise,
        to_all=part @ variances / max(len(tags), 1),
    )
