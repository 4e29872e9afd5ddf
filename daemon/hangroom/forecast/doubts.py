"""What looks wrong in the weights: exchanged tags, gains, a stick or a pace not expected."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from math import sqrt

import numpy as np

from hangroom.forecast.learning import Learned
from hangroom.forecast.likelihood import STICK_ON_LOSS_RATIO
from hangroom.forecast.looks import Base, Look
from hangroom.forecast.single import expected
from hangroom.product.drying_priors import SPREADS
from hangroom.product.forecast import Question, Remark

# Two tags count as exchanged where both weights are out by more than three standard deviations as
# they stand (chi-square 18 of two), and fit well the other way round.
EXCHANGED_CHI_SQUARE, FITTING_CHI_SQUARE = 18.0, 6.0
# Gains count from so long and so many standard deviations on.
RISES_FOR_H, RISE_SDS = 20.0, 3.0
LEAST_RISE_RATIO = 0.002
MOST_RISES_TOLD = 2
# 99 of 100 weights lie within so many standard deviations.
BAND_SDS = 2.576
# 9 of 10 lie above the mean less so many.
P10_SDS = 1.2816


def untangled(
    looks: Sequence[Look], question: Question, stick_bases: Mapping[str, Base]
) -> tuple[tuple[Look, ...], tuple[Remark, ...]]:
    """Return the looks with exchanged tags put right, and a remark for each pair.

    Each stick should go on from its own last weight by the pace of all. Once a pair is told it is
    not told again; later weights are put right too while they stay exchanged.
    """
    green_g = {stick.tag: stick.green_weight_g for stick in question.tagged}
    before_g = {
        tag: base.hung_ratio * green_g[tag]
        for tag, base in stick_bases.items()
        if base.hung_ratio is not None
    }
    put_right: list[Look] = []
    told: dict[tuple[str, str], Remark] = {}
    for look in looks:
        now_g = {tag: ratio * green_g[tag] for tag, ratio in look.yields_ratio.items()}
        pair = _exchanged(before_g, now_g, question.scale_sd_g)
        if pair is not None:
            first, second = pair
            now_g[first], now_g[second] = now_g[second], now_g[first]
            told.setdefault(
                pair, Remark(code="tags-swapped", figures={"tag": first, "other": second})
            )
        put_right.append(
            replace(look, yields_ratio={tag: each / green_g[tag] for tag, each in now_g.items()})
        )
        before_g.update(now_g)
    return tuple(put_right), tuple(told.values())


def doubts(learned: Learned) -> tuple[Remark, ...]:
    """Return what the weights ask to be looked at; `learned` with all its ways still in it."""
    return (*_rises(learned), *_outside(learned), *_fell(learned))


def _exchanged(
    before_g: Mapping[str, float], now_g: Mapping[str, float], scale_sd_g: float
) -> tuple[str, str] | None:
    both = [tag for tag in sorted(now_g) if tag in before_g]
    if len(both) < 2:  # noqa: PLR2004  # a pair
        return None
    # The sum does not know which stick is which.
    kept = sum(now_g[tag] for tag in both) / sum(before_g[tag] for tag in both)
    due_g = {tag: kept * before_g[tag] for tag in both}
    own_sd_ratio = SPREADS.stick_ln_sd_ratio * abs(1.0 - kept) + 2.0 * SPREADS.reading_sd_ratio
    sd_g = {tag: sqrt(2.0 * scale_sd_g**2 + (own_sd_ratio * due_g[tag]) ** 2) for tag in both}

    def chi_square(first: str, second: str) -> float:
        return ((now_g[second] - due_g[first]) / sd_g[first]) ** 2

    found = [
        (chi_square(a, a) + chi_square(b, b), (a, b))
        for a, b in combinations(both, 2)
        if min(chi_square(a, a), chi_square(b, b)) > EXCHANGED_CHI_SQUARE / 2.0
        and chi_square(a, b) + chi_square(b, a) < FITTING_CHI_SQUARE
    ]
    return max(found)[1] if found else None


def _rises(learned: Learned) -> list[Remark]:
    """Find stretches of a day and more over which the same sticks only gained."""
    points = _mean_changes(learned)
    remarks, start = [], 0
    while start < len(points):
        end = start
        while end < len(points) and points[end][2] < 0.0:
            end += 1
        if end > start:
            from_h, to_h = points[start][0], points[end - 1][1]
            rise_ratio = -sum(change for _, _, change, _ in points[start:end])
            noise_ratio = max(sd for _, _, _, sd in points[start:end])
            expected_ratio = _gained_ratio(learned, from_h, to_h)
            if to_h - from_h >= RISES_FOR_H and rise_ratio - expected_ratio > max(
                RISE_SDS * noise_ratio, LEAST_RISE_RATIO
            ):
                remarks.append(
                    Remark(
                        code="weights-rise",
                        figures={"from_h": from_h, "to_h": to_h, "rise_pct": 100.0 * rise_ratio},
                    )
                )
        start = max(end, start + 1)
    return remarks[-MOST_RISES_TOLD:]


def _mean_changes(learned: Learned) -> list[tuple[float, float, float, float]]:
    """From, to, loss of the sticks in both looks as share of hang weight, and its sd; by pairs."""
    hung_ratio = learned.hung.mean_ratio
    hang = Look(
        at_h=0.0,
        yields_ratio={
            tag: base.hung_ratio
            for tag, base in learned.bases.items()
            if base.hung_ratio is not None
        },
    )
    weighed = [hang, *(look for look in learned.looks if look.yields_ratio)]
    changes = []
    for before, after in pairwise(weighed):
        both = before.yields_ratio.keys() & after.yields_ratio.keys()
        if not both:
            continue
        lost = np.mean(
            [
                (before.yields_ratio[tag] - after.yields_ratio[tag])
                / (learned.bases[tag].hung_ratio or hung_ratio)
                for tag in sorted(both)
            ]
        )
        reading_sd_ratio = np.mean([learned.bases[tag].reading_sd_ratio for tag in sorted(both)])
        noise_ratio = np.sqrt(
            2.0 * reading_sd_ratio**2 / len(both) + 2.0 * SPREADS.reading_sd_ratio**2
        )
        changes.append((before.at_h, after.at_h, float(lost), float(noise_ratio)))
    return changes


def _gained_ratio(learned: Learned, from_h: float, to_h: float) -> float:
    """What the likely ways gained over a stretch, as when the air was wetter than the sticks."""
    gained = learned.path.loss_at(from_h) - learned.path.loss_at(to_h)
    return max(float(learned.weights_ratio @ gained), 0.0)


def _outside(learned: Learned) -> list[Remark]:
    """Hold each of the newest weights against what was expected of that stick before."""
    weighed = [number for number, look in enumerate(learned.looks) if look.yields_ratio]
    if not weighed:
        return []
    newest = weighed[-1]
    look = learned.looks[newest]
    green_g = {stick.tag: stick.green_weight_g for stick in learned.question.tagged}
    remarks = []
    for tag, due in expected(learned, at_h=look.at_h, looks=newest).items():
        if tag not in look.yields_ratio:
            continue
        yield_ratio = look.yields_ratio[tag]
        reading_sd_ratio = learned.bases[tag].reading_sd_ratio + SPREADS.reading_sd_ratio
        reach_ratio = BAND_SDS * sqrt(due.sd_ratio**2 + reading_sd_ratio**2)
        if abs(yield_ratio - due.yield_ratio) > reach_ratio:
            remarks.append(
                Remark(
                    code="weight-outside-band",
                    figures={
                        "tag": tag,
                        "at_h": look.at_h,
                        "weight_g": yield_ratio * green_g[tag],
                        "low_g": (due.yield_ratio - reach_ratio) * green_g[tag],
                        "high_g": (due.yield_ratio + reach_ratio) * green_g[tag],
                    },
                )
            )
    return remarks


def _fell(learned: Learned) -> list[Remark]:
    """Hold the last two stretches against the slowest tenth of what was expected before both."""
    changes = _mean_changes(learned)
    if len(changes) < 3:  # noqa: PLR2004  # one to learn from, two to judge
        return []
    known = sum(look.at_h <= changes[-2][0] for look in learned.looks)
    weights_ratio = learned.weights_after(known)
    of_sticks_ratio = (
        STICK_ON_LOSS_RATIO * SPREADS.stick_ln_sd_ratio / sqrt(max(len(learned.bases), 1))
    )
    figures: dict[str, float | str] = {}
    for from_h, to_h, lost_ratio, noise_ratio in changes[-2:]:
        due = learned.path.loss_at(to_h) - learned.path.loss_at(from_h)
        mean_ratio = float(weights_ratio @ due)
        variance = float(weights_ratio @ (due - mean_ratio) ** 2) + noise_ratio**2
        variance += (
            SPREADS.model_sd_ratio**2 * abs(mean_ratio) + (of_sticks_ratio * mean_ratio) ** 2
        )
        low_ratio = mean_ratio - P10_SDS * sqrt(variance)
        if lost_ratio >= low_ratio:
            return []
        per_day = 2400.0 / max(to_h - from_h, 1e-6)
        figures = {
            "from_h": changes[-2][0],
            "measured_pct_per_day": lost_ratio * per_day,
            "low_pct_per_day": low_ratio * per_day,
        }
    return [Remark(code="rate-fell", figures=figures)]
