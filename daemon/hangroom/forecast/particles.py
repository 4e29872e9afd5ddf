"""The ways the drying may go: a thousand sticks drawn from what is believed of room and recipe."""

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Self, TypeAlias

import numpy as np
from numpy.typing import NDArray

from hangroom.product import drying_priors as priors
from hangroom.product.drying import Stick
from hangroom.product.forecast import Belief, Beliefs, Question
from hangroom.product.sorption import salted_strength

Floats: TypeAlias = NDArray[np.floating[Any]]
Rows: TypeAlias = NDArray[np.intp]

# What differs from one way to the next, each a standard normal number.
(
    TRANSFER,
    DIFFUSIVITY,
    ACTIVATION,
    STRENGTH,
    STEEPNESS,
    WATER,
    RADIUS,
    BIAS,
    HUNG,
    GAP_HUMIDITY,
    GAP_TEMPERATURE,
    PLAN_HUMIDITY,
    PLAN_TEMPERATURE,
    FADING,
    CLOSING,
) = range(15)
DIMENSIONS = 15


@dataclass(frozen=True, slots=True, kw_only=True)
class HungRatio:
    """Weight as hung over green weight: what is believed of it, and whether it was weighed."""

    mean_ratio: float
    sd_ratio: float
    weighed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Particles:
    """One row of `normals` for each way the drying may go.

    `log_share`: natural logarithm of how much rarer it was drawn than the beliefs would, 0 for a
    plain draw from them.
    """

    normals: Floats
    log_share: Floats
    stick: Stick
    hung_ratio: Floats
    bias_ratio: Floats

    def kept(self, rows: Rows) -> Self:
        """Return some of them, in that order."""
        stick = self.stick
        return type(self)(
            normals=self.normals[rows],
            log_share=self.log_share[rows],
            stick=Stick(
                transfer_kg_per_m2_s_pa=stick.transfer_kg_per_m2_s_pa[rows],
                diffusivity_m2_per_s=stick.diffusivity_m2_per_s[rows],
                activation_kj_per_mol=stick.activation_kj_per_mol[rows],
                strength=stick.strength[rows],
                steepness=stick.steepness[rows],
                water_ratio=stick.water_ratio[rows],
                radius_m=stick.radius_m[rows],
                meat_fading_ratio=stick.meat_fading_ratio[rows],
                casing_closing_ratio=stick.casing_closing_ratio[rows],
            ),
            hung_ratio=self.hung_ratio[rows],
            bias_ratio=self.bias_ratio[rows],
        )


def even_normals(count: int, dimensions: int, random: np.random.Generator) -> Floats:
    """Standard normal numbers, one from each of `count` equally likely slices, columns shuffled.

    A Latin hypercube (McKay, Beckman & Conover 1979, Technometrics 21:239), which spreads far more
    evenly than independent draws.
    """
    normal = NormalDist()
    slices = np.array([normal.inv_cdf((number + 0.5) / count) for number in range(count)])
    return np.column_stack([random.permutation(slices) for _ in range(dimensions)])


def from_normals(
    normals: Floats, question: Question, hung: HungRatio, log_share: Floats | None = None
) -> Particles:
    """Turn standard normal rows into sticks, by the beliefs that hold for this question."""
    beliefs = question.beliefs or priors.PUBLISHED
    spreads, isotherm = priors.SPREADS, priors.ISOTHERM
    water_ratio = question.water_fraction / (1.0 - question.water_fraction)
    strength = isotherm.strength_median_ratio
    if question.water_phase_salt_pct is not None:
        strength = salted_strength(
            strength,
            isotherm.steepness_mean_ratio,
            water_phase_salt_pct=question.water_phase_salt_pct,
            water_ratio=water_ratio,
        )
    radius_ln_sd_ratio = (
        spreads.measured_radius_ln_sd_ratio
        if question.diameter_measured
        else spreads.nominal_radius_ln_sd_ratio
    )
    column = normals.T
    stick = Stick(
        transfer_kg_per_m2_s_pa=_spread(
            beliefs.transfer_kg_per_m2_s_pa.median,
            beliefs.transfer_kg_per_m2_s_pa.ln_sd,
            column[TRANSFER],
        ),
        diffusivity_m2_per_s=_spread(
            beliefs.diffusivity_m2_per_s.median,
            beliefs.diffusivity_m2_per_s.ln_sd,
            column[DIFFUSIVITY],
        ),
        activation_kj_per_mol=np.maximum(
            priors.ACTIVATION.mean_kj_per_mol
            + priors.ACTIVATION.sd_kj_per_mol * column[ACTIVATION],
            0.0,
        ),
        strength=_spread(strength, isotherm.strength_ln_sd_ratio, column[STRENGTH]),
        steepness=np.maximum(
            isotherm.steepness_mean_ratio + isotherm.steepness_sd_ratio * column[STEEPNESS], 0.3
        ),
        water_ratio=_spread(water_ratio, spreads.water_ln_sd_ratio, column[WATER]),
        radius_m=_spread(question.diameter_mm / 2000.0, radius_ln_sd_ratio, column[RADIUS]),
        meat_fading_ratio=_spread(
            priors.FADING.meat_ratio, priors.FADING.ln_sd_ratio, column[FADING]
        ),
        casing_closing_ratio=_spread(
            priors.FADING.casing_ratio, priors.FADING.ln_sd_ratio, column[CLOSING]
        ),
    )
    return Particles(
        normals=normals,
        log_share=np.zeros(len(normals)) if log_share is None else log_share,
        stick=stick,
        hung_ratio=np.clip(hung.mean_ratio + hung.sd_ratio * column[HUNG], 0.3, 1.5),
        bias_ratio=spreads.humidity_sd_pct / 100.0 * column[BIAS],
    )


def closed_in(
    drawn_rows: Floats, rows: Floats, weights_ratio: Floats, random: np.random.Generator
) -> tuple[Floats, Floats]:
    """Draw anew where weighted rows lie, to stand beside `drawn_rows`, which the beliefs drew.

    Returns rows and `log_share` for both together: importance weights against the mixture of the
    two draws (the balance heuristic, Veach & Guibas 1995), so the answer is the same, only finer.
    """
    eased_ratio = _eased(weights_ratio, least=4.0 * DIMENSIONS)
    mean = eased_ratio @ rows
    apart = rows - mean
    # Half again as wide as what was found, and never a needle: tails must not be cut off.
    covariance = 1.5 * (apart.T * eased_ratio) @ apart + 0.03 * np.eye(DIMENSIONS)
    root = np.linalg.cholesky(covariance)
    fresh = mean + even_normals(len(drawn_rows), DIMENSIONS, random) @ root.T
    together = np.vstack([drawn_rows, fresh])
    within = np.linalg.solve(root, (together - mean).T)
    fitted = -0.5 * np.sum(within**2, axis=0) - np.sum(np.log(np.diag(root)))
    plain = -0.5 * np.sum(together**2, axis=1)
    return together, plain - np.logaddexp(plain, fitted)


def _eased(weights_ratio: Floats, least: float) -> Floats:
    """Flatten weights until at least so many rows carry them."""
    power = 1.0
    logs = np.log(np.maximum(weights_ratio, 1e-300))
    while True:
        eased = np.exp(power * (logs - logs.max()))
        eased /= eased.sum()
        if 1.0 / float(np.sum(eased**2)) >= min(least, len(logs) / 2.0):
            return np.asarray(eased)
        power /= 1.5


def beliefs_after(particles: Particles, weights_ratio: Floats) -> Beliefs:
    """Return what is believed of room and recipe by weighted ways: mean and sd of logarithms."""

    def belief(values: Floats) -> Belief:
        logs = np.log(values)
        mean = float(weights_ratio @ logs)
        return Belief(
            median=math.exp(mean),
            ln_sd=math.sqrt(max(float(weights_ratio @ (logs - mean) ** 2), 0.0)),
        )

    return Beliefs(
        transfer_kg_per_m2_s_pa=belief(particles.stick.transfer_kg_per_m2_s_pa),
        diffusivity_m2_per_s=belief(particles.stick.diffusivity_m2_per_s),
    )


def _spread(median: float, ln_sd: float, normals: Floats) -> Floats:
    return np.asarray(median * np.exp(ln_sd * normals))
