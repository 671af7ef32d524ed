"""Leaf fall common to a place: how much more than usual everyone there loses at a time, as each tree's peers show it.

For every place and day the factor's likelihood is summed over the trees on a grid; each tree is judged by the others
only (leave one out). Some of the others may be dropping for reasons of their own, so each counts as a mixture of
"usual × factor" and "dropping" (a contaminated likelihood, after Tukey 1960); trees lately moved do not count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from server.analysis.counts import Exposure, Visits

Floats = NDArray[np.float64]

FACTORS = np.geomspace(0.2, 40.0, 24)
"""Grid of the factor; 1 = as usual."""
LATELY_MOVED_DAYS = 21.0
"""A tree moved within so many days says nothing about its place; common practice, no published source."""
DROPPING_SHARE = 0.08
"""Share of a place that may be dropping for reasons of its own without passing for common."""
DROPPING_TIMES = (6.0, 25.0)
"""What "dropping" looks like among peers: so many times the collection's usual on top."""
DAY_KERNEL = (1.0, 0.7, 0.35)
"""Weight of counts made 0, 1 and 2 days apart."""
CALM_LOG_SD, UPSET_LOG_SD, UPSET_SHARE = 0.12, 1.2, 0.06
"""Before any peer is seen: mostly near 1, now and then anything."""
FOLLOWS_ALL_LOG_SD, FOLLOWS_ALL_SHARE = 0.15, 0.8
"""A place mostly follows the collection's factor of that day."""


@dataclass(frozen=True)
class Common:
    """Factor of place and time for each interval, judged by others: `factor`, its squared CV `spread`, `peers`."""

    factor: Floats
    spread: Floats
    peers: Floats


def common_factor(visits: Visits, exposed: Exposure, own_rate: Floats, mean_rate: float, extra_spread: float) -> Common:
    """Estimate the factor for every tree and visit from the peers in the same place and days.

    `own_rate`: shape (trees,), usual share a day. Results have shape (trees, visits).
    """
    told = exposed.counted & (visits.moved_ago > LATELY_MOVED_DAYS)
    likelihood = _factor_likelihood(visits.fallen, exposed.leaf_days, own_rate, mean_rate, extra_spread)
    likelihood[~told] = 0.0
    bins, cell = _cells(visits)
    own = _own_window(visits, likelihood, told)
    everywhere = cell["all"]
    around_all, n_all = _pooled(likelihood, told, everywhere, bins["all"])
    around_here, n_here = _pooled(likelihood, told, cell["place"], bins["place"])
    base = _log_prior()
    among_all = around_all - own[0] + base
    among_all -= logsumexp(among_all, axis=-1, keepdims=True)
    prior_here = np.logaddexp(
        np.log(FOLLOWS_ALL_SHARE) + _blurred(among_all), np.log(1.0 - FOLLOWS_ALL_SHARE) + base[None, None, :]
    )
    known_place = (visits.place >= 0)[..., None]
    posterior = np.where(known_place, around_here - own[0] + prior_here, among_all)
    posterior -= logsumexp(posterior, axis=-1, keepdims=True)
    share = np.exp(posterior)
    factor = share @ FACTORS
    spread = np.maximum(share @ FACTORS**2 / factor**2 - 1.0, 0.0)
    peers = np.where(visits.place >= 0, n_here, n_all) - own[1]
    return Common(factor, spread, peers)


def _log_prior() -> Floats:
    """Give the grid's prior: a narrow bump at 1 and a wide one."""
    x = np.log(FACTORS)
    calm = -0.5 * (x / CALM_LOG_SD) ** 2
    upset = -0.5 * (x / UPSET_LOG_SD) ** 2
    calm -= logsumexp(calm)
    upset -= logsumexp(upset)
    prior: Floats = np.logaddexp(np.log(1 - UPSET_SHARE) + calm, np.log(UPSET_SHARE) + upset)
    return prior


def _blurred(log_share: Floats) -> Floats:
    """Let a place differ a little from the collection: a log-normal blur over the grid."""
    x = np.log(FACTORS)
    kernel = np.exp(-0.5 * ((x[:, None] - x[None, :]) / FOLLOWS_ALL_LOG_SD) ** 2)
    kernel /= kernel.sum(axis=1, keepdims=True)
    blurred: Floats = np.log(np.exp(log_share) @ kernel + 1e-12)
    return blurred


def _factor_likelihood(
    fallen: Floats, leaf_days: Floats, own_rate: Floats, mean_rate: float, extra_spread: float
) -> Floats:
    """Log-likelihood of every factor on the grid, shape (trees, visits, grid), constants left out."""
    size = 1.0 / extra_spread
    y = np.nan_to_num(fallen)[..., None]
    usual = np.nan_to_num(own_rate[:, None] * leaf_days)[..., None]
    extra = np.nan_to_num(mean_rate * leaf_days)[..., None]

    def negative_binomial(mean: Floats) -> Floats:
        mean = mean + 1e-9
        value: Floats = y * np.log(mean) - (y + size) * np.log1p(mean / size)
        return value

    total: Floats = np.log(1 - DROPPING_SHARE) + negative_binomial(usual * FACTORS)
    for times in DROPPING_TIMES:
        dropping = negative_binomial((usual + times * extra) * FACTORS)
        total = np.logaddexp(total, np.log(DROPPING_SHARE / len(DROPPING_TIMES)) + dropping)
    return total


def _cells(visits: Visits) -> tuple[dict[str, int], dict[str, NDArray[np.int64]]]:
    """Number the days, and the days within each place; padding goes to day 0."""
    whole = np.floor(visits.day)
    first = np.nanmin(whole) if np.isfinite(whole).any() else 0.0
    day = np.nan_to_num(whole - first).astype(np.int64) + 2
    days = int(day.max(initial=0)) + 3
    places = int(visits.place.max(initial=-1)) + 1
    return {"all": days, "place": days * max(places, 1)}, {
        "all": day,
        "place": np.maximum(visits.place, 0) * days + day,
    }


def _pooled(likelihood: Floats, told: NDArray[np.bool_], cell: NDArray[np.int64], cells: int) -> tuple[Floats, Floats]:
    """Sum the likelihoods of a cell and its neighbouring days, back at every tree and visit."""
    flat = cell[told]
    sums = np.empty((cells, len(FACTORS)))
    for g in range(len(FACTORS)):
        sums[:, g] = np.bincount(flat, weights=likelihood[..., g][told], minlength=cells)
    counts = np.bincount(flat, minlength=cells).astype(float)
    around, n_around = sums * DAY_KERNEL[0], counts.copy()
    for apart in (1, 2):
        for shifted in (np.roll(sums, apart, axis=0), np.roll(sums, -apart, axis=0)):
            around += DAY_KERNEL[apart] * shifted
        n_around += np.roll(counts, apart) + np.roll(counts, -apart)
    return around[cell], n_around[cell]


def _own_window(visits: Visits, likelihood: Floats, told: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """What a tree itself put into its window: this visit and neighbouring ones up to two days apart."""
    whole = np.floor(visits.day)
    own, n_own = likelihood * DAY_KERNEL[0], told.astype(float)
    for step in (1, 2):
        if whole.shape[1] <= step:
            continue
        apart = whole[:, step:] - whole[:, :-step]
        same_place = visits.place[:, step:] == visits.place[:, :-step]
        for gap, kernel in enumerate(DAY_KERNEL):
            near = ((apart == gap) & same_place)[..., None]
            own[:, step:] += np.where(near, kernel * likelihood[:, :-step], 0.0)
            own[:, :-step] += np.where(near, kernel * likelihood[:, step:], 0.0)
            n_own[:, step:] += near[..., 0] & told[:, :-step]
            n_own[:, :-step] += near[..., 0] & told[:, 1 * step :]
    return own, n_own
