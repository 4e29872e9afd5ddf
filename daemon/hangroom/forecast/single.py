"""Each tagged stick by itself: its own weights, and what the others tell of it."""

from dataclasses import dataclass

import numpy as np

from hangroom.forecast.learning import Learned
from hangroom.forecast.likelihood import LEAST_LOSS_RATIO, STICK_ON_LOSS_RATIO
from hangroom.forecast.particles import Floats, Rows
from hangroom.product.drying_priors import SPREADS
from hangroom.product.forecast import StickNow

# So many of the weighted ways, and so many of the last looks, are enough for single sticks.
WAYS = 48
LOOKS = 10
LEAST_SD_RATIO = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """A stick's expected yield on green weight, and its standard deviation."""

    yield_ratio: float
    sd_ratio: float


def sticks_now(learned: Learned) -> tuple[StickNow, ...]:
    """Return every tagged stick at this moment."""
    found = expected(learned, at_h=learned.question.now_h, looks=len(learned.looks))
    return tuple(
        StickNow(tag=tag, yield_ratio=each.yield_ratio, yield_sd_ratio=each.sd_ratio)
        for tag, each in found.items()
    )


def expected(learned: Learned, *, at_h: float, looks: int) -> dict[str, Expected]:
    """Return what each tagged stick was expected to be at a moment, after so many looks."""
    tags = list(learned.bases)
    if not tags:
        return {}
    lost_by_then = learned.path.loss_at(at_h)
    rows = _even_sample(learned.weights_after(looks), lost_by_then)
    hung_ratio = learned.particles.hung_ratio[rows]
    first = max(looks - LOOKS, 0)
    seen = [
        (j, tags.index(tag), yield_ratio)
        for j, look in enumerate(learned.looks[first:looks], start=first)
        for tag, yield_ratio in look.yields_ratio.items()
    ]
    at_loss = np.maximum(lost_by_then[rows], LEAST_LOSS_RATIO)[:, None]
    look_of = np.array([j for j, _, _ in seen], dtype=np.intp)
    stick_of = np.array([s for _, s, _ in seen], dtype=np.intp)
    at_looks = np.maximum(learned.looks_loss_ratio[:, rows][look_of].T, LEAST_LOSS_RATIO)
    hung_of = [base.hung_ratio for base in learned.bases.values()]
    own_hung = np.array(
        [np.full(len(rows), each) if each is not None else hung_ratio for each in hung_of]
    )
    readings = np.array([reading for _, _, reading in seen]).reshape(1, len(seen))
    apart = 1.0 - readings / own_hung[stick_of].T - at_looks
    between = _covariance(learned, at_looks, at_looks, stick_of, stick_of)
    same_look = look_of[:, None] == look_of
    reading_sd = np.array([base.reading_sd_ratio for base in learned.bases.values()])
    between += SPREADS.reading_sd_ratio**2 * same_look + np.diag(reading_sd[stick_of] ** 2)
    # So that two readings of a scale without error can be told apart at all.
    between += LEAST_SD_RATIO**2 * np.eye(len(seen))
    every = np.arange(len(tags))
    spread_to = np.repeat(at_loss, len(tags), axis=1)
    towards = _covariance(learned, at_looks, spread_to, stick_of, every)
    own = np.diagonal(_covariance(learned, spread_to, spread_to, every, every), axis1=1, axis2=2)
    gain = np.linalg.solve(between, towards)
    lost = at_loss + np.einsum("mos,mo->ms", gain, apart)
    variance = np.maximum(own - np.einsum("mos,mos->ms", gain, towards), 0.0)
    yields = own_hung.T * (1.0 - lost)
    variance = variance * learned.fit.stretched_ratio * own_hung.T**2
    mean = yields.mean(axis=0)
    sd = np.sqrt(variance.mean(axis=0) + yields.var(axis=0))
    return {
        tag: Expected(yield_ratio=float(mean[number]), sd_ratio=float(sd[number]))
        for number, tag in enumerate(tags)
    }


def _covariance(
    learned: Learned, losses: Floats, others: Floats, sticks: Rows, other_sticks: Rows
) -> Floats:
    """Between single sticks' losses: own pace, the model's error, the error of the hang weight."""
    same = (sticks[:, None] == other_sticks).astype(float)
    lead = STICK_ON_LOSS_RATIO * SPREADS.stick_ln_sd_ratio
    base_variance = np.array([base.base_sd_ratio**2 for base in learned.bases.values()])
    product = losses[:, :, None] * others[:, None, :]
    return np.asarray(
        lead**2 * (same - 1.0 / learned.in_group) * product
        + SPREADS.model_sd_ratio**2 * np.minimum(losses[:, :, None], others[:, None, :])
        + same
        * base_variance[sticks][:, None]
        * (1.0 - losses)[:, :, None]
        * (1.0 - others)[:, None, :]
    )


def _even_sample(weights_ratio: Floats, lost_ratio: Floats) -> Rows:
    """Rows drawn evenly along the weights (systematic resampling), the same every time.

    In the order of what was lost, so that few of them have the mean and the spread of all.
    """
    order = np.argsort(lost_ratio)
    at = (np.arange(WAYS) + 0.5) / WAYS
    summed = np.cumsum(weights_ratio[order])
    return np.asarray(
        order[np.minimum(np.searchsorted(summed, at * summed[-1]), len(summed) - 1)], dtype=np.intp
    )
