"""Estimates of like things, pooled as far as they agree: the hierarchical normal model, and intervals that hold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, ndtr, ndtri, stdtr, stdtrit

Floats = NDArray[np.float64]

TAIL_90 = 0.05
"""Probability on each side outside a central 90 % interval."""
DF_KNOWN = 2000.0
"""From so many degrees of freedom on, variances count as known."""
TAU_POINTS, FACTOR_POINTS = 40, 21
HALVINGS = 50
SPLIT_REACH, SPLIT_POINTS = 6.0, 401
SCATTER_MIN = 0.02
"""Groups that agree better than this share of what chance makes of them do so by luck, or by figures rounded alike."""


@dataclass(frozen=True)
class Pooled:
    """Posterior of each group's value, shape (groups,), and of the mean that the groups scatter around.

    `low`, `high`: 90 % interval of constant coverage; `positive`: probability that the value is above 0; `sd`: the
    posterior's standard deviation; `spread`: posterior mean of the standard deviation between groups. Of the common
    mean, `common_mean` and `common_sd` are those of the posterior, `common_low`, `common_high` and `common_positive`
    those of an interval that keeps its coverage with few groups.
    """

    mean: Floats
    low: Floats
    high: Floats
    positive: Floats
    sd: Floats
    common_mean: float
    common_low: float
    common_high: float
    common_positive: float
    common_sd: float
    spread: float


def pool(estimate: Floats, variance: Floats, df: float, tau_scale: float = np.inf) -> Pooled:
    """Pool estimates of one effect in several groups as far as they agree.

    Normal hierarchical model, Rubin 1981, J. Educ. Stat. 6:377-401, solved on a grid of the standard deviation between
    groups as in Gelman et al. 2013, Bayesian Data Analysis, 3rd ed., section 5.4: flat prior on the common mean,
    half-Cauchy of scale `tau_scale` on the standard deviation (Gelman 2006, Bayesian Anal. 1:515-533; infinite: flat).
    `variance` is the squared standard error of each estimate; it is known up to a common factor, which rests on `df`
    degrees of freedom (np.inf: known) and is integrated over. The groups' intervals are those of Yu & Hoff 2018,
    Biometrika 105:319-335: each leans on what the other groups show, and covers its own truth in 90 of 100 cases
    however much or little the groups agree, which intervals of the posterior do only on average. One group alone gets
    the plain t interval. The common mean's interval is that of Hartung 1999, Biom. J. 41:901-916, and Sidik & Jonkman
    2002, Stat. Med. 21:3153-3159, whose width rests on how the groups scatter and not on the prior.
    Raises ValueError where there is no group, or a variance or `df` is not above 0.
    """
    if not len(estimate) or not (variance > 0).all() or not df > 0:
        raise ValueError("pooling needs at least one estimate, each with a variance above 0 and degrees of freedom")
    grid = _grid(estimate, variance, df)
    log_weight = _log_weight(grid, estimate, variance, tau_scale)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    sampling = variance[:, None] * grid.factor
    precision = 1.0 / (sampling + grid.tau**2)
    common_sd = precision.sum(axis=0) ** -0.5
    common = (precision * estimate[:, None]).sum(axis=0) * common_sd**2
    own = grid.tau**2 * precision
    centre = own * estimate[:, None] + (1.0 - own) * common
    scale = np.sqrt(own * sampling + (1.0 - own) ** 2 * common_sd**2)
    mean = centre @ weight
    sd = np.sqrt((scale**2 + (centre - mean[:, None]) ** 2) @ weight)
    low, high = _constant_coverage(estimate, variance, df, *_others(grid, estimate, variance, tau_scale))
    c_mean = float(common @ weight)
    positive = ndtr(centre / scale) @ weight
    ends = low[0], high[0], positive[0]
    c_low, c_high, c_positive = _common_interval(estimate, precision @ weight, variance) if len(estimate) > 1 else ends
    return Pooled(
        mean=np.clip(mean, low, high),
        low=low,
        high=high,
        positive=positive,
        sd=sd,
        common_mean=float(np.clip(c_mean, c_low, c_high)),
        common_low=c_low,
        common_high=c_high,
        common_positive=c_positive,
        common_sd=float(np.sqrt((common_sd**2 + (common - c_mean) ** 2) @ weight)),
        spread=float(grid.tau @ weight),
    )


def restricted_log_likelihood(tau: Floats, estimate: Floats, variance: Floats) -> Floats:
    """Restricted log-likelihood of the standard deviation between groups, up to a constant (Gelman et al. 2013, 5.21).

    `tau` has shape (points,), `estimate` (groups,), `variance` (groups,) or (groups, points).
    """
    precision = 1.0 / (variance.reshape(len(estimate), -1) + np.square(tau))
    total = precision.sum(axis=0)
    common = (precision * estimate[:, None]).sum(axis=0) / total
    misfit = (precision * (estimate[:, None] - common) ** 2).sum(axis=0)
    value: Floats = 0.5 * (np.log(precision).sum(axis=0) - np.log(total) - misfit)
    return value


@dataclass(frozen=True)
class _Grid:
    """Points (spread between groups, common factor of the variances) and the prior share of each point's cell."""

    tau: Floats
    factor: Floats
    share: Floats


def _grid(estimate: Floats, variance: Floats, df: float) -> _Grid:
    factor, share = np.ones(1), np.ones(1)
    if df < DF_KNOWN:
        # Quantiles of the inverse chi-squared, denser towards its tails, which make the tails of a t.
        edges = (1.0 - np.cos(np.linspace(0.0, np.pi, FACTOR_POINTS + 1))) / 2
        factor, share = df / chdtri(df, (edges[1:] + edges[:-1]) / 2), np.diff(edges)
    if len(estimate) == 1:
        return _Grid(np.zeros(len(factor)), factor, share)
    sd = np.sqrt(variance)
    widest = 30.0 * max(float(np.ptp(estimate)), float(sd.max()))
    tau = np.concatenate([[0.0], np.geomspace(0.03 * float(sd.min()), widest, TAU_POINTS - 1)])
    edges = np.concatenate([[0.0], (tau[1:] + tau[:-1]) / 2, [tau[-1]]])
    cells = np.outer(np.diff(edges), share).ravel()
    return _Grid(np.repeat(tau, len(factor)), np.tile(factor, len(tau)), cells)


def _log_weight(grid: _Grid, estimate: Floats, variance: Floats, tau_scale: float) -> Floats:
    """Log of the posterior weight of each point, up to a constant."""
    told = restricted_log_likelihood(grid.tau, estimate, variance[:, None] * grid.factor)
    return told + _log_prior(grid, tau_scale)


def _log_prior(grid: _Grid, tau_scale: float) -> Floats:
    prior: Floats = np.log(grid.share) - np.log1p((grid.tau / tau_scale) ** 2)
    return prior


def _others(grid: _Grid, estimate: Floats, variance: Floats, tau_scale: float) -> tuple[Floats, Floats]:
    """What all other groups say a group's value may be: mean and variance (infinite where there is no other)."""
    groups = len(estimate)
    if groups == 1:
        return np.zeros(1), np.full(1, np.inf)
    precision = 1.0 / (variance[:, None] * grid.factor + grid.tau**2)
    weighted = precision * estimate[:, None]
    total = precision.sum(axis=0) - precision
    common = (weighted.sum(axis=0) - weighted) / total
    squares = weighted * estimate[:, None]
    misfit = squares.sum(axis=0) - squares - total * common**2
    logs = np.log(precision)
    log_weight = 0.5 * (logs.sum(axis=0) - logs - np.log(total) - misfit) + _log_prior(grid, tau_scale)
    weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    # Precisions are averaged: the spread's posterior has so long a tail that its mean square means little.
    return (weight * common).sum(axis=1), 1.0 / (weight / (grid.tau**2 + 1.0 / total)).sum(axis=1)


def _constant_coverage(
    estimate: Floats, variance: Floats, df: float, expected: Floats, expected_var: Floats
) -> tuple[Floats, Floats]:
    """90 % intervals that lean towards `expected` and keep their coverage (Yu & Hoff 2018, equations 4 to 6).

    A value θ is kept unless the estimate lies too far out for it; the 10 % of error are split between the two sides by
    where θ lies from `expected`, so that the interval is shortest where the truth is expected.
    """
    se, freedom = np.sqrt(variance), min(df, DF_KNOWN)
    split = ndtr(np.linspace(-SPLIT_REACH, SPLIT_REACH, SPLIT_POINTS))
    lean = ndtri(2 * TAIL_90 * split) - ndtri(2 * TAIL_90 * (1.0 - split))

    def share_above(theta: Floats) -> Floats:
        asked = 2.0 * se * (theta - expected) / expected_var
        share: Floats = np.interp(asked, lean, split)
        return share

    def reach(share: Floats) -> Floats:
        quantile: Floats = se * stdtrit(freedom, share)
        return quantile

    ends = []
    for is_high in (False, True):
        far = reach(np.full(len(se), 2 * TAIL_90 * split[0]))
        low, high = estimate + far, estimate - far
        for _ in range(HALVINGS):
            theta = (low + high) / 2
            above = share_above(theta)
            tail = 1.0 - 2 * TAIL_90 * above if is_high else 2 * TAIL_90 * (1.0 - above)
            below = theta - reach(tail) < estimate
            low, high = np.where(below, theta, low), np.where(below, high, theta)
        ends.append((low + high) / 2)
    return ends[0], ends[1]


def _common_interval(estimate: Floats, precision: Floats, variance: Floats) -> tuple[float, float, float]:
    """90 % interval of the mean that two or more groups scatter around, and the probability that it lies above 0."""
    freedom = len(estimate) - 1.0
    centre = float(precision @ estimate / precision.sum())
    scatter = float(precision @ (estimate - centre) ** 2) / freedom / float(precision.sum())
    se = max(scatter, SCATTER_MIN / float((1.0 / variance).sum())) ** 0.5
    reach = se * float(stdtrit(freedom, 1.0 - TAIL_90))
    return centre - reach, centre + reach, float(stdtr(freedom, centre / se))
