"""From weighted ways of drying to what is to come: the way to the target, and when it is there."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hangroom.forecast.airing import to_come
from hangroom.forecast.learning import Learned
from hangroom.forecast.particles import (
    PLAN_HUMIDITY,
    PLAN_TEMPERATURE,
    Floats,
    even_normals,
)
from hangroom.forecast.path import Path, dried, joined
from hangroom.product.drying_priors import SPREADS
from hangroom.product.forecast import AirPlanned, Remark

# Each way is carried on with so many different errors of the model.
DRAWS = 4
DRAW_SEED = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """When so many of 100 are there, hours since hanging; None where they never will be."""

    p10_h: float | None
    p50_h: float | None
    p90_h: float | None
    never_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Ahead:
    """All ways from hanging to the end, in the frame of the scale.

    `loss_ratio`: the model's with what the weights corrected, rows for edges. `off_sd_ratio`: how
    unsure that correction is. `target_ratio`: loss at which the target is reached, in each way.
    `draws`: standard normal numbers for the model's errors, rows for draws, columns for ways.
    """

    path: Path
    loss_ratio: Floats
    off_sd_ratio: Floats
    target_ratio: Floats
    draws: Floats
    now_edge: int
    remarks: tuple[Remark, ...]


def ahead(learned: Learned, plan: Sequence[AirPlanned] | None = None) -> Ahead:
    """Carry all ways on from now, through the question's plan or another, until they arrive."""
    question = learned.question
    steps, remarks = to_come(
        learned.air,
        question.plan if plan is None else plan,
        kept=question.plan,
        now_h=question.now_h,
    )
    target_ratio = 1.0 - question.target_yield_ratio / learned.particles.hung_ratio
    enough = _enough(learned, target_ratio)
    future = dried(
        learned.particles,
        steps,
        start=learned.path.end,
        columns=(PLAN_HUMIDITY, PLAN_TEMPERATURE),
        until=lambda losses: bool(np.all(losses >= enough)),
    )
    path = joined(learned.path, future)
    off, off_sd = _corrected(learned, path)
    return Ahead(
        path=path,
        loss_ratio=path.loss_ratio + off,
        off_sd_ratio=off_sd,
        target_ratio=target_ratio,
        draws=_draws(len(learned.weights_ratio)),
        now_edge=len(learned.path.edges_h) - 1,
        remarks=remarks,
    )


def arrival(learned: Learned, way: Ahead) -> Arrival:
    """Say when the target is reached: each way's crossing, with errors of the model drawn to it."""
    hours, weights_ratio = crossings(learned, way)
    order = np.argsort(hours)
    summed = np.cumsum(weights_ratio[order])

    def hour_h(share_ratio: float) -> float | None:
        hour = hours[order[min(int(np.searchsorted(summed, share_ratio)), len(order) - 1)]]
        return float(hour) if np.isfinite(hour) else None

    return Arrival(
        p10_h=hour_h(0.1),
        p50_h=hour_h(0.5),
        p90_h=hour_h(0.9),
        never_pct=100.0 * float(weights_ratio[~np.isfinite(hours)].sum()),
    )


def crossings(learned: Learned, way: Ahead) -> tuple[Floats, Floats]:
    """Return hours at which the target is reached, infinite where never, and their weights."""
    last_loss, last_sd = _last(learned)
    spread = np.sqrt(
        last_sd**2 + _variance_ratio(learned) * np.maximum(way.target_ratio - last_loss, 0.0)
    )
    reached = np.maximum.accumulate(way.loss_ratio, axis=0)
    edges_h = way.path.edges_h
    hours = [_first(edges_h, reached, way.target_ratio - spread * each) for each in way.draws]
    return np.concatenate(hours), np.tile(learned.weights_ratio / DRAWS, DRAWS)


def _draws(ways: int) -> Floats:
    random = np.random.default_rng(DRAW_SEED)
    return even_normals(DRAWS * ways, 1, random).reshape(DRAWS, ways)


def yields_at(learned: Learned, way: Ahead, edge: int) -> tuple[Floats, Floats]:
    """Return the group's yields on green at an edge, model's errors drawn, and their weights."""
    lost = way.loss_ratio[edge] + way.off_sd_ratio[edge] * way.draws
    weights_ratio = np.tile(learned.weights_ratio / DRAWS, DRAWS)
    return (learned.particles.hung_ratio * (1.0 - lost)).ravel(), weights_ratio


def quantiles(values: Floats, weights_ratio: Floats, shares: Sequence[float]) -> list[float]:
    """Weighted quantiles, lowest first."""
    order = np.argsort(values)
    summed = np.cumsum(weights_ratio[order]) - 0.5 * weights_ratio[order]
    return [float(each) for each in np.interp(shares, summed, values[order])]


def _first(edges_h: Floats, reached: Floats, targets: Floats) -> Floats:
    """When each way first reaches its target, straight between edges."""
    after = np.sum(reached < targets, axis=0)
    never = after == len(edges_h)
    after = np.minimum(after, len(edges_h) - 1)
    before = np.maximum(after - 1, 0)
    columns = np.arange(reached.shape[1])
    low, high = reached[before, columns], reached[after, columns]
    share = np.where(high > low, (targets - low) / np.maximum(high - low, 1e-12), 1.0)
    hours = edges_h[before] + np.clip(share, 0.0, 1.0) * (edges_h[after] - edges_h[before])
    return np.where(never, np.inf, hours)


def _variance_ratio(learned: Learned) -> float:
    return SPREADS.model_sd_ratio**2 * learned.fit.stretched_ratio


def _last(learned: Learned) -> tuple[Floats, Floats]:
    """Model's loss at the last look, and how unsure its correction is; zeros before any look."""
    if not learned.looks:
        nothing = np.zeros(len(learned.weights_ratio))
        return nothing, nothing
    return learned.looks_loss_ratio[-1], learned.fit.off_sd_ratio[-1]


def _enough(learned: Learned, target_ratio: Floats) -> Floats:
    """Loss beyond which no drawn error can keep a way from having arrived."""
    last_loss, last_sd = _last(learned)
    off = learned.fit.off_ratio[-1] if learned.looks else 0.0
    spread = np.sqrt(
        last_sd**2 + _variance_ratio(learned) * np.maximum(target_ratio - last_loss, 0.0)
    )
    return np.asarray(target_ratio - off - learned.fit.base_ratio + 4.0 * spread)


def _corrected(learned: Learned, path: Path) -> tuple[Floats, Floats]:
    """What to add to the model's loss at each edge, and its standard deviation.

    Between looks the Brownian error is pinned at both (a bridge); after the last it wanders on.
    """
    fit, drift = learned.fit, _variance_ratio(learned)
    loss = np.maximum(path.loss_ratio, 0.0)
    base = fit.base_ratio.astype(np.float32) * (1.0 - loss)
    if not learned.looks:
        return base, np.sqrt(drift * loss)
    nothing = np.zeros_like(learned.looks_loss_ratio[:1])
    pinned = np.maximum(np.vstack([nothing, learned.looks_loss_ratio]), 0.0)
    off = np.vstack([nothing, fit.off_ratio])
    off_sd = np.vstack([nothing, fit.off_sd_ratio])
    which = np.searchsorted(np.concatenate([[0.0], learned.told.at_h]), path.edges_h, side="right")
    here, sd = np.empty_like(loss), np.empty_like(loss)
    for number in range(1, len(pinned) + 1):
        rows = which == number
        before, after = number - 1, min(number, len(pinned) - 1)
        if after == before:
            beyond = np.maximum(loss[rows] - pinned[-1], 0.0)
            here[rows] = off[-1]
            sd[rows] = np.sqrt(off_sd[-1] ** 2 + drift * beyond)
            continue
        span = np.maximum(pinned[after] - pinned[before], 1e-9)
        share = np.clip((loss[rows] - pinned[before]) / span, 0.0, 1.0)
        here[rows] = (1.0 - share) * off[before] + share * off[after]
        sd[rows] = np.sqrt(
            ((1.0 - share) * off_sd[before]) ** 2
            + (share * off_sd[after]) ** 2
            + drift * share * (1.0 - share) * span
        )
    return here + base, sd
