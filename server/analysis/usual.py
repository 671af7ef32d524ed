"""What is usual: leaf loss of sound trees, learned from the collection by empirical Bayes (gamma-Poisson).

A tree's own usual rate is drawn from a gamma distribution over the collection; the leaves that fall in one interval
are Poisson about rate × leaf-days × the factor of place and time, with some extra spread from visit to visit
(negative binomial). Robbins 1956 for empirical Bayes; Clayton & Kaldor 1987, Biometrics 43:671-681 for the
gamma-Poisson form with exposures.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import gammaln

Floats = NDArray[np.float64]

# Where little was counted, these stand in. Common practice, no published source; the data soon outweigh them.
USUAL_A_DAY = 0.003
"""Leaves of a sound potted tree lost a day in the growing season, as a share."""
USUAL_LOG_SD = 0.5
"""How unsure that figure is, on the log scale."""
SHAPE_START = 6.0
"""Gamma shape of the differences between sound trees: 6 is a spread of about 40 %."""
SHAPE_LOG_SD = 0.25
EXTRA_SPREAD = 0.08
"""Squared coefficient of variation from visit to visit beyond chance, before the data speak."""
EXTRA_SPREAD_WEIGHT = 40.0
"""So many expected leaves' worth of data that starting value counts."""
EXTRA_SPREAD_LOG_SD = 1.5
EXTRA_SPREAD_MAX = 1.0
BEGINS_A_DAY = 1.0 / 400.0
"""Chance a day that a sound tree begins to drop, before the data speak."""
BEGINS_AFTER_MOVE = 0.25
"""Chance that a move of weight 1 begins a drop, before the data speak."""
BEGINS_LOG_SD = 1.0
"""How unsure both chances are, on the log scale."""


@dataclass(frozen=True)
class Usual:
    """Gamma distribution of sound trees' loss: `mean` (share a day), `shape`; `extra_spread` from visit to visit.

    `begins_a_day` is the chance a day that a sound tree begins to drop, `begins_after_move` that a move of weight 1
    begins it.
    """

    mean: float = USUAL_A_DAY
    shape: float = SHAPE_START
    extra_spread: float = EXTRA_SPREAD
    begins_a_day: float = BEGINS_A_DAY
    begins_after_move: float = BEGINS_AFTER_MOVE

    def penalty(self) -> float:
        """How far this is from the starting values: half the squared standard deviations, on the log scale."""
        far = (
            log(self.mean / USUAL_A_DAY) / USUAL_LOG_SD,
            log(self.shape / SHAPE_START) / SHAPE_LOG_SD,
            log(self.begins_a_day / BEGINS_A_DAY) / BEGINS_LOG_SD,
            log(self.begins_after_move / BEGINS_AFTER_MOVE) / BEGINS_LOG_SD,
            log(self.extra_spread / EXTRA_SPREAD) / EXTRA_SPREAD_LOG_SD,
        )
        return 0.5 * sum(x * x for x in far)

    def own_rate(self, fallen: Floats, leaf_days: Floats) -> Floats:
        """Give each tree's usual rate a day: posterior mean from its own sound sums."""
        rate: Floats = (self.shape + fallen) / (self.shape / self.mean + leaf_days)
        return rate


def fit_usual(fallen: Floats, leaf_days: Floats, weight: Floats) -> Usual:
    """Fit mean, shape and extra spread by (weakly penalised) maximum marginal likelihood.

    Arrays of shape (trees, visits), NaN where not counted; `leaf_days` already times the factor of place and time;
    `weight` 0-1 is the chance that the tree was sound then.
    """
    known = np.isfinite(fallen) & np.isfinite(leaf_days)
    w = np.where(known, weight, 0.0)
    y, x = np.where(known, fallen, 0.0), np.where(known, leaf_days, 0.0)
    y_sum, x_sum = (w * y).sum(axis=1), (w * x).sum(axis=1)
    rows = x_sum > 0
    if not rows.any():
        return Usual()
    y_sum, x_sum = y_sum[rows], x_sum[rows]

    def loss(p: Floats) -> float:
        mean, shape = exp(np.clip(p[0], -14, 0)), exp(np.clip(p[1], -2, 6))
        mu = mean * x_sum
        fit = gammaln(y_sum + shape) - gammaln(shape) - (shape + y_sum) * np.log1p(mu / shape)
        fit += y_sum * (np.log(mu) - log(shape))
        return float(-fit.sum()) + Usual(mean, shape).penalty()

    start = np.array([log(USUAL_A_DAY), log(SHAPE_START)])
    found = minimize(loss, start, method="Nelder-Mead", options={"xatol": 0.01, "fatol": 0.01, "maxfev": 150}).x
    mean, shape = exp(np.clip(found[0], -14, 0)), exp(np.clip(found[1], -2, 6))
    own = np.full(len(fallen), mean)
    own[rows] = Usual(mean, shape).own_rate(y_sum, x_sum)
    mu = own[:, None] * x
    excess = float((w * ((y - mu) ** 2 - y)).sum()) + EXTRA_SPREAD * EXTRA_SPREAD_WEIGHT
    extra = excess / (float((w * mu**2).sum()) + EXTRA_SPREAD_WEIGHT)
    return Usual(mean, shape, float(np.clip(extra, 0.02, EXTRA_SPREAD_MAX)))
