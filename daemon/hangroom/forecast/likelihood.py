"""How well each way of the drying explains the weights, and what the model itself gets wrong.

Three errors are shared between looks and integrated out in closed form: the tagged sticks may dry
faster than their group, the model may be off (a Brownian motion in the share lost), and the weight
as hung was read with an error. What is left is the scale's noise at each look.
"""

from dataclasses import dataclass

import numpy as np

from hangroom.forecast.looks import Told
from hangroom.forecast.particles import Floats
from hangroom.product.drying_priors import SPREADS

# A stick that dries 8 % faster has lost less than 8 % more by then: it also tires sooner.
STICK_ON_LOSS_RATIO = 0.85
LEAST_LOSS_RATIO = 1e-6
# Beyond so many standard deviations of what chi-square may be, no way explains the weights.
MISFIT_SDS = 3.0
# So many covariances' entries are worked on at once: a few megabytes.
PORTION = 3e5


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What the looks say of every way the drying may go.

    `squares[j]`, `log_roots[j]`: of the looks up to and with the j-th, what makes up their
    likelihood, exp(-squares / 2 - log_roots). `off_ratio[j]`, `off_sd_ratio[j]`:
    what must be added to the model's loss at look j, and how surely. `base_ratio`: error of the
    weight as hung, as a loss. `stretched_ratio`: what the variances had to be multiplied by before
    any way explained the weights; 1 where one does.
    """

    squares: Floats
    log_roots: Floats
    off_ratio: Floats
    off_sd_ratio: Floats
    base_ratio: Floats
    stretched_ratio: float

    def log_likelihood(self, looks: int) -> Floats:
        """Logarithm of how well each way explains the first so many looks."""
        if looks == 0:
            return np.zeros_like(self.base_ratio)
        squares = self.squares[looks - 1]
        stretched_ratio = _stretched_ratio(float(squares.min()), looks)
        return np.asarray(-0.5 * squares / stretched_ratio - self.log_roots[looks - 1])


def fitted(told: Told, losses_ratio: Floats, hung_ratio: Floats, sticks_in_group: int) -> Fit:
    """Weigh every way (columns) against the looks (rows of `losses_ratio`, the model's)."""
    count, ways = losses_ratio.shape
    apart = told.losses(hung_ratio) - losses_ratio
    squares, log_roots = np.zeros((count, ways)), np.zeros((count, ways))
    off, off_sd, base = np.zeros((count, ways)), np.zeros((count, ways)), np.zeros(ways)
    # In portions, so that many looks need no more memory than few.
    portion = max(int(PORTION / max(count, 1) ** 2), 16)
    for first in range(0, ways, portion):
        some = slice(first, first + portion)
        losses = np.maximum(losses_ratio[:, some], LEAST_LOSS_RATIO).T
        residual = apart[:, some].T
        drift = SPREADS.model_sd_ratio**2 * np.minimum(losses[:, :, None], losses[:, None, :])
        covariance = np.asarray(
            _stick_covariance(told, losses, sticks_in_group)
            + drift
            + told.base * (1.0 - losses)[:, :, None] * (1.0 - losses)[:, None, :]
            + np.diag(told.noise)
        )
        root = np.linalg.cholesky(covariance).astype(float, copy=False)
        towards = told.to_all * (1.0 - losses)
        given = np.concatenate([residual[:, :, None], drift, towards[:, :, None]], axis=2)
        whitened = _forward(root, given)
        own = whitened[:, :, 0]
        squares[:, some] = np.cumsum(own**2, axis=1).T
        log_roots[:, some] = np.cumsum(np.log(np.diagonal(root, axis1=1, axis2=2)), axis=1).T
        by_look = whitened[:, :, 1 : count + 1]
        off[:, some] = np.einsum("mij,mi->jm", by_look, own)
        explained = np.einsum("mij,mij->jm", by_look, by_look)
        off_sd[:, some] = np.sqrt(
            np.maximum(np.diagonal(drift, axis1=1, axis2=2).T - explained, 0.0)
        )
        base[some] = np.sum(whitened[:, :, -1] * own, axis=1)
    stretched_ratio = _stretched_ratio(float(squares[-1].min()), count) if count else 1.0
    return Fit(
        squares=squares,
        log_roots=log_roots,
        off_ratio=off,
        off_sd_ratio=off_sd * np.sqrt(stretched_ratio),
        base_ratio=base,
        stretched_ratio=stretched_ratio,
    )


def _stick_covariance(told: Told, losses: Floats, sticks_in_group: int) -> Floats:
    """Return how the tagged sticks' mean may differ from their group's, between looks."""
    weighed = np.diag(told.shared) > 0.0
    of_group = np.where(np.outer(weighed, weighed), 1.0 / max(sticks_in_group, 1), 0.0)
    lead = STICK_ON_LOSS_RATIO * SPREADS.stick_ln_sd_ratio * losses
    return np.asarray((told.shared - of_group) * lead[:, :, None] * lead[:, None, :])


def _forward(root: Floats, given: Floats) -> Floats:
    """Solve root x = given for every lower triangle at once."""
    solved = np.empty_like(given)
    for row in range(root.shape[1]):
        known = np.einsum("mk,mkr->mr", root[:, row, :row], solved[:, :row])
        solved[:, row] = (given[:, row] - known) / root[:, row, row, None]
    return solved


def _stretched_ratio(least_squares_ratio: float, count: int) -> float:
    """Variances grow where even the best way lies far off: then no band may be a narrow one."""
    most = count + MISFIT_SDS * np.sqrt(2.0 * count)
    return max(1.0, least_squares_ratio / float(most))
