"""From a question to weighted ways of drying: drawn, dried in the measured air, held to weights."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hangroom.forecast.airing import past, usable
from hangroom.forecast.likelihood import Fit, fitted
from hangroom.forecast.looks import Base, Look, Told, told
from hangroom.forecast.particles import (
    DIMENSIONS,
    GAP_HUMIDITY,
    GAP_TEMPERATURE,
    Floats,
    HungRatio,
    Particles,
    closed_in,
    even_normals,
    from_normals,
)
from hangroom.forecast.path import Path, dried
from hangroom.product.forecast import AirSeen, Question, Remark

# With fewer ways that carry the weight, percentiles are a matter of luck.
FEWEST_EFFECTIVE = 50.0
MOST_ROUNDS = 3
# What all of the least likely ways together may weigh and yet be left out of what is to come.
LEFT_OUT_RATIO = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """All ways of drying up to now, and how likely each is.

    `weights_ratio` sum to one. `looks_loss_ratio`: the model's loss at each look.
    """

    question: Question
    air: tuple[AirSeen, ...]
    looks: tuple[Look, ...]
    bases: dict[str, Base]
    told: Told
    hung: HungRatio
    particles: Particles
    path: Path
    looks_loss_ratio: Floats
    fit: Fit
    weights_ratio: Floats
    effective: float
    remarks: tuple[Remark, ...]

    @property
    def in_group(self) -> int:
        """Sticks of the group, never fewer than the tagged ones."""
        return max(self.question.sticks_in_group, len(self.bases), 1)

    def weights_after(self, looks: int) -> Floats:
        """How likely each way was after so many looks."""
        return _weights(self.particles.log_share + self.fit.log_likelihood(looks))


def learn(
    question: Question,
    looks: Sequence[Look],
    stick_bases: dict[str, Base],
    hung: HungRatio,
    *,
    particles: int,
    seed: int,
) -> Learned:
    """Weigh the ways of drying against the looks; draws again where too few carry the weight."""
    random = np.random.default_rng(seed)
    air = usable(question.air, now_h=question.now_h)
    numbers = told(looks, stick_bases)
    steps, remarks = past(air, question.plan, now_h=question.now_h, looks_h=numbers.at_h)
    drawn = even_normals(particles, DIMENSIONS, random)

    def judged(ways: Particles) -> Learned:
        path = dried(ways, steps, columns=(GAP_HUMIDITY, GAP_TEMPERATURE))
        at_looks = np.array([path.loss_at(at_h) for at_h in numbers.at_h])
        at_looks = at_looks.reshape(len(looks), len(ways.log_share))
        in_group = max(question.sticks_in_group, len(stick_bases), 1)
        fit = fitted(numbers, at_looks, ways.hung_ratio, in_group)
        weights_ratio = _weights(ways.log_share + fit.log_likelihood(len(looks)))
        return Learned(
            question=question,
            air=air,
            looks=tuple(looks),
            bases=stick_bases,
            told=numbers,
            hung=hung,
            particles=ways,
            path=path,
            looks_loss_ratio=at_looks,
            fit=fit,
            weights_ratio=weights_ratio,
            effective=1.0 / float(np.sum(weights_ratio**2)),
            remarks=remarks,
        )

    found = judged(from_normals(drawn, question, hung))
    for _round in range(MOST_ROUNDS):
        if found.effective >= min(FEWEST_EFFECTIVE, particles / 4.0):
            break
        rows, log_share = closed_in(drawn, found.particles.normals, found.weights_ratio, random)
        found = judged(from_normals(rows, question, hung, log_share))
    return found


def _weights(logs: Floats) -> Floats:
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def without_unlikely(found: Learned) -> Learned:
    """Return it without the ways that hardly count: what is to come costs time for each."""
    order = np.argsort(found.weights_ratio)
    keep = np.sort(order[np.cumsum(found.weights_ratio[order]) > LEFT_OUT_RATIO])
    fit, path = found.fit, found.path
    weights_ratio = found.weights_ratio[keep] / found.weights_ratio[keep].sum()
    return Learned(
        question=found.question,
        air=found.air,
        looks=found.looks,
        bases=found.bases,
        told=found.told,
        hung=found.hung,
        particles=found.particles.kept(keep),
        path=Path(
            edges_h=path.edges_h,
            loss_ratio=path.loss_ratio[:, keep],
            surface_ratio=path.surface_ratio[:, keep],
        ),
        looks_loss_ratio=found.looks_loss_ratio[:, keep],
        fit=Fit(
            squares=fit.squares[:, keep],
            log_roots=fit.log_roots[:, keep],
            off_ratio=fit.off_ratio[:, keep],
            off_sd_ratio=fit.off_sd_ratio[:, keep],
            base_ratio=fit.base_ratio[keep],
            stretched_ratio=fit.stretched_ratio,
        ),
        weights_ratio=weights_ratio,
        effective=found.effective,
        remarks=found.remarks,
    )
