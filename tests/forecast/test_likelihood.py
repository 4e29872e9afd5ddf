"""The likelihood in closed form, held against scipy's normal distributions."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from hangroom.forecast import likelihood
from hangroom.forecast.likelihood import fitted
from hangroom.forecast.looks import Base, Look, told
from hangroom.product.drying_priors import SPREADS

BASES = {
    "A": Base(hung_ratio=0.88, reading_sd_ratio=0.006, base_sd_ratio=0.006),
    "B": Base(hung_ratio=0.90, reading_sd_ratio=0.005, base_sd_ratio=0.005),
    "C": Base(hung_ratio=0.87, reading_sd_ratio=0.007, base_sd_ratio=0.007),
}
# Sticks come and go between the looks.
LOSSES = ({"A": 0.06, "B": 0.065}, {"A": 0.11, "B": 0.12, "C": 0.105}, {"C": 0.16})
AT_H = (24.0, 48.0, 72.0)
LOOKS = [
    Look(
        at_h=at_h,
        yields_ratio={
            tag: (BASES[tag].hung_ratio or 0.0) * (1 - lost) for tag, lost in each.items()
        },
    )
    for at_h, each in zip(AT_H, LOSSES, strict=True)
]
WAYS = np.array([[0.05, 0.07, 0.062], [0.10, 0.13, 0.113], [0.14, 0.19, 0.155]])
IN_GROUP = 12


def joint_covariance(losses: np.ndarray) -> tuple[np.ndarray, list[tuple[int, str]]]:
    """Of every single reading, written out stick by stick: the long way round."""
    readings = [(look, tag) for look, each in enumerate(LOSSES) for tag in each]
    covariance = np.zeros((len(readings), len(readings)))
    for row, (j, s) in enumerate(readings):
        for column, (k, t) in enumerate(readings):
            pace = (0.85 * 0.08) ** 2 * losses[j] * losses[k] * ((s == t) - 1.0 / IN_GROUP)
            drift = SPREADS.model_sd_ratio**2 * min(losses[j], losses[k])
            base = (s == t) * BASES[s].base_sd_ratio ** 2 * (1 - losses[j]) * (1 - losses[k])
            scale = (row == column) * BASES[s].reading_sd_ratio ** 2
            covariance[row, column] = pace + drift + base + scale + (j == k) * 0.0015**2
    return covariance, readings


def means_of(readings: list[tuple[int, str]]) -> np.ndarray:
    """The matrix that takes readings to the mean of each look."""
    return np.array(
        [[(look == j) / len(each) for look, _ in readings] for j, each in enumerate(LOSSES)]
    )


def test_each_look_is_as_likely_as_a_normal_distribution_says() -> None:
    fit = fitted(told(LOOKS, BASES), WAYS, np.full(3, 0.88), IN_GROUP)
    measured = np.array([np.mean(list(each.values())) for each in LOSSES])
    for way in range(3):
        joint, readings = joint_covariance(WAYS[:, way])
        means = means_of(readings)
        covariance = means @ joint @ means.T
        for looks in (1, 2, 3):
            expected = multivariate_normal.logpdf(
                measured[:looks], WAYS[:looks, way], covariance[:looks, :looks]
            )
            constant = -0.5 * looks * np.log(2.0 * np.pi)
            assert fit.log_likelihood(looks)[way] + constant == pytest.approx(expected, abs=1e-9)


def test_the_models_error_is_what_conditioning_says() -> None:
    """Mean and sd of a normal vector given others: the textbook's block formula."""
    fit = fitted(told(LOOKS, BASES), WAYS, np.full(3, 0.88), IN_GROUP)
    measured = np.array([np.mean(list(each.values())) for each in LOSSES])
    for way in range(3):
        losses = WAYS[:, way]
        joint, readings = joint_covariance(losses)
        means = means_of(readings)
        inverse = np.linalg.inv(means @ joint @ means.T)
        drift = SPREADS.model_sd_ratio**2 * np.minimum.outer(losses, losses)
        expected = drift @ inverse @ (measured - losses)
        assert fit.off_ratio[:, way] == pytest.approx(expected, abs=1e-12)
        spread = np.sqrt(np.diag(drift - drift @ inverse @ drift))
        assert fit.off_sd_ratio[:, way] == pytest.approx(spread, abs=1e-12)


def test_a_pace_with_scale_noise_alone_has_the_known_posterior(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Loss = pace x hours, pace ~ N(m, s2), noise v: a normal of precision 1/s2 + sum(t2)/v.

    Any textbook on Bayesian regression.
    """
    exact = replace(SPREADS, model_sd_ratio=0.0, stick_ln_sd_ratio=0.0, reading_sd_ratio=0.0)
    monkeypatch.setattr(likelihood, "SPREADS", exact)
    monkeypatch.setattr("hangroom.forecast.looks.priors.SPREADS", exact)
    scale = Base(hung_ratio=0.9, reading_sd_ratio=0.01, base_sd_ratio=1e-9)
    at_h, read = np.array([24.0, 48.0, 72.0]), np.array([0.05, 0.11, 0.16])
    looks = [
        Look(at_h=float(t), yields_ratio={"A": 0.9 * (1.0 - float(lost))})
        for t, lost in zip(at_h, read, strict=True)
    ]
    mean, sd = 0.0025, 0.0004
    pace = np.random.default_rng(3).normal(mean, sd, 200_000)
    fit = fitted(told(looks, {"A": scale}), np.outer(at_h, pace), np.full(len(pace), 0.9), 1)
    weights = np.exp(fit.log_likelihood(3) - fit.log_likelihood(3).max())
    weights /= weights.sum()
    precision = 1.0 / sd**2 + float(at_h @ at_h) / 0.01**2
    expected = (mean / sd**2 + float(at_h @ read) / 0.01**2) / precision
    found = float(weights @ pace)
    assert found == pytest.approx(expected, abs=4.0 * precision**-0.5 / np.sqrt(50_000))
    spread = float(np.sqrt(weights @ (pace - found) ** 2))
    assert spread == pytest.approx(precision**-0.5, rel=0.02)


def test_weights_that_nothing_explains_widen_every_band() -> None:
    wild = [
        Look(
            at_h=look.at_h,
            yields_ratio={tag: each * 0.7 for tag, each in look.yields_ratio.items()},
        )
        for look in LOOKS
    ]
    usual = fitted(told(LOOKS, BASES), WAYS, np.full(3, 0.88), IN_GROUP)
    odd = fitted(told(wild, BASES), WAYS, np.full(3, 0.88), IN_GROUP)
    assert usual.stretched_ratio == 1.0
    assert odd.stretched_ratio > 10.0
    assert np.all(odd.off_sd_ratio > usual.off_sd_ratio)


def test_many_looks_are_weighed_in_portions_as_in_one() -> None:
    """60 looks of 1200 ways do not fit one portion; one way alone does."""
    rng = np.random.default_rng(4)
    at_h = np.arange(1, 61) * 24.0
    looks = [
        Look(at_h=float(t), yields_ratio={"A": 0.88 * float(np.exp(-t / 2000.0))}) for t in at_h
    ]
    ways = 1.0 - np.exp(-at_h[:, None] / rng.uniform(1500.0, 2500.0, 1200))
    numbers = told(looks, {"A": BASES["A"]})
    together = fitted(numbers, ways, np.full(1200, 0.88), 12)
    for way in (0, 82, 83, 1199):
        alone = fitted(numbers, ways[:, way : way + 1], np.full(1, 0.88), 12)
        assert together.squares[-1, way] == pytest.approx(alone.squares[-1, 0], rel=1e-9)
        assert together.off_ratio[:, way] == pytest.approx(alone.off_ratio[:, 0], abs=1e-12)
