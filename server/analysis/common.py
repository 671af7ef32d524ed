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
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FACTORS = np.geomspace(0.5, 40.0, 24)
"""Grid of the factor; 1 = as usual."""
LATELY_MOVED_DAYS = 21.0
"""A tree moved within so many days says nothing about its place; common practice, no published source."""
DROPPING_SHARE = 0.08
"""Share of a place that may be dropping for reasons of its own without passing for common."""
DROPPING_TIMES = (6.0, 25.0)
"""What "dropping" looks like among peers: so many times the collection's usual on top."""
NEAR_DAYS = {-2: 0.35, -1: 0.7, 0: 1.0, 1: 0.7, 2: 0.35}
"""Weight of counts made so many days before (−) or after."""
EARLIER_DAYS = dict.fromkeys(range(-8, -2), 1.0)
"""Counts of these days before tell what was going on there at the round before."""
DAYS_PADDING = 9
VISITS_APART_MAX = 4
CHUNK_TREES = 250
CALM_LOG_SD, UPSET_LOG_SD, UPSET_SHARE = 0.12, 1.2, 0.06
"""Before any peer is seen: mostly near 1, now and then anything."""
SPREAD_MAX = 0.15
"""Without peers anything might be common; more doubt than this would hide every drop."""
FOLLOWS_ALL_LOG_SD, FOLLOWS_ALL_SHARE = 0.15, 0.55
"""A place mostly follows the collection's factor of that day …"""
GOES_ON_LOG_SD, GOES_ON_SHARE = 0.3, 0.3
"""… or goes on as at the round before."""


@dataclass(frozen=True)
class Common:
    """Factor of place and time for each interval, judged by others: `factor`, its squared CV `spread`, `peers`."""

    factor: Floats
    spread: Floats
    peers: Floats


def common_factor(visits: Visits, exposed: Exposure, own_rate: Floats, mean_rate: float, extra_spread: float) -> Common:
    """Estimate the factor for every tree and visit from the peers in the same place and days.

    `own_rate`: shape (trees,), usual share a day. Results have shape (trees, visits). Works through the trees in
    slices, which bounds its memory: once to sum up each place and day, once to judge each tree by the others.
    """
    told = exposed.counted & (visits.moved_ago > LATELY_MOVED_DAYS)
    cells, sizes = _cells(visits)
    slices = [slice(at, at + CHUNK_TREES) for at in range(0, len(told), CHUNK_TREES)]

    def likelihood_of(part: slice) -> Singles:
        found = _factor_likelihood(
            visits.fallen[part], exposed.leaf_days[part], own_rate[part], mean_rate, extra_spread
        )
        found[~told[part]] = 0.0
        return found

    sums = {name: np.zeros((size, len(FACTORS))) for name, size in sizes.items()}
    counts = {name: np.zeros(size) for name, size in sizes.items()}
    for part in slices:
        likelihood = likelihood_of(part)
        for name, cell in cells.items():
            sums[name] += _binned(likelihood, told[part], cell[part], sizes[name])
            counts[name] += np.bincount(cell[part][told[part]], minlength=sizes[name])
    pools = _Pools(
        near_all=_to_singles(_spread_over(sums["all"], NEAR_DAYS)),
        near_here=_to_singles(_spread_over(sums["place"], NEAR_DAYS)),
        earlier_here=_to_singles(_spread_over(sums["place"], EARLIER_DAYS)),
        seen_all=_spread_over(counts["all"], dict.fromkeys(NEAR_DAYS, 1.0)),
        seen_here=_spread_over(counts["place"], dict.fromkeys(NEAR_DAYS, 1.0)),
    )
    shape = told.shape
    common = Common(np.ones(shape), np.zeros(shape), np.zeros(shape))
    for part in slices:
        where = {name: cell[part] for name, cell in cells.items()}
        found = _judged_by_others(pools, where, visits.day[part], visits.place[part], likelihood_of(part), told[part])
        common.factor[part], common.spread[part], common.peers[part] = found
    return common


@dataclass(frozen=True)
class _Pools:
    """Likelihoods and numbers of counts summed up over a cell and its neighbouring days."""

    near_all: Singles
    near_here: Singles
    earlier_here: Singles
    seen_all: Floats
    seen_here: Floats


def _judged_by_others(
    pools: _Pools, cells: dict[str, Ints], day: Floats, place: Ints, likelihood: Singles, told: Bools
) -> tuple[Floats, Floats, Floats]:
    """Factor, its squared CV and the number of peers for some trees, each tree's own counts taken out."""
    own_near, own_seen = _own_window(day, place, likelihood, told, NEAR_DAYS)
    own_earlier, _ = _own_window(day, place, likelihood, told, EARLIER_DAYS)
    base = np.exp(_log_prior()).astype(np.float32)
    among_all = _shares(pools.near_all[cells["all"]] - own_near, base)
    earlier = _shares(pools.earlier_here[cells["place"]] - own_earlier, base)
    prior = among_all @ (FOLLOWS_ALL_SHARE * _blur(FOLLOWS_ALL_LOG_SD))
    prior += earlier @ (GOES_ON_SHARE * _blur(GOES_ON_LOG_SD))
    prior += np.float32(1.0 - FOLLOWS_ALL_SHARE - GOES_ON_SHARE) * base
    share = _shares(pools.near_here[cells["place"]] - own_near, prior)
    nowhere = place < 0
    share[nowhere] = among_all[nowhere]
    moments = (share @ np.stack([FACTORS, FACTORS**2], axis=1).astype(np.float32)).astype(np.float64)
    factor = moments[..., 0]
    spread = np.clip(moments[..., 1] / factor**2 - 1.0, 0.0, SPREAD_MAX)
    peers = np.where(place >= 0, pools.seen_here[cells["place"]], pools.seen_all[cells["all"]]) - own_seen
    return factor, spread, peers


def _to_singles(log_likelihood: Floats) -> Singles:
    """Take the largest off each row, which changes no share, so that single precision is fine enough."""
    singles: Singles = (log_likelihood - log_likelihood.max(axis=-1, keepdims=True)).astype(np.float32)
    return singles


def _shares(log_likelihood: Singles, prior: Singles) -> Singles:
    """Turn likelihoods times prior into shares over the grid that add up to one; changes its first argument."""
    log_likelihood -= log_likelihood.max(axis=-1, keepdims=True)
    share: Singles = np.exp(log_likelihood, out=log_likelihood)
    share *= prior
    share /= share.sum(axis=-1, keepdims=True)
    return share


def _log_prior() -> Floats:
    """Give the grid's prior: a narrow bump at 1 and a wide one."""
    x = np.log(FACTORS)
    calm = -0.5 * (x / CALM_LOG_SD) ** 2
    upset = -0.5 * (x / UPSET_LOG_SD) ** 2
    calm -= logsumexp(calm)
    upset -= logsumexp(upset)
    prior: Floats = np.logaddexp(np.log(1 - UPSET_SHARE) + calm, np.log(UPSET_SHARE) + upset)
    return prior


def _blur(log_sd: float) -> Singles:
    """Kernel that lets a place differ a little: log-normal over the grid, rows add up to one."""
    x = np.log(FACTORS)
    kernel: Floats = np.exp(-0.5 * ((x[:, None] - x[None, :]) / log_sd) ** 2)
    kernel /= kernel.sum(axis=1, keepdims=True)
    return kernel.astype(np.float32)


def _factor_likelihood(
    fallen: Floats, leaf_days: Floats, own_rate: Floats, mean_rate: float, extra_spread: float
) -> Singles:
    """Log-likelihood of every factor on the grid, shape (trees, visits, grid), constants left out.

    In single precision: half the time, and far finer than what it is compared with.
    """
    size = np.float32(1.0 / extra_spread)
    y = np.nan_to_num(fallen)[..., None].astype(np.float32)
    usual = np.nan_to_num(own_rate[:, None] * leaf_days)
    extra = np.nan_to_num(mean_rate * leaf_days)
    factors, log_factors = FACTORS.astype(np.float32), np.log(FACTORS).astype(np.float32)

    def negative_binomial(mean: Floats) -> Singles:
        at_one = (mean + 1e-9)[..., None]
        value: Singles = (at_one / size).astype(np.float32) * factors
        np.log1p(value, out=value)
        value *= -(y + size)
        value += y * (np.log(at_one).astype(np.float32) + log_factors)
        return value

    sound = negative_binomial(usual)
    dropping = [negative_binomial(usual + times * extra) for times in DROPPING_TIMES]
    top = np.maximum(sound, np.maximum.reduce(dropping))
    total: Singles = np.float32(1.0 - DROPPING_SHARE) * np.exp(sound - top)
    for each in dropping:
        total += np.float32(DROPPING_SHARE / len(DROPPING_TIMES)) * np.exp(each - top)
    np.log(total, out=total)
    total += top
    return total


def _cells(visits: Visits) -> tuple[dict[str, Ints], dict[str, int]]:
    """Number the days, and the days within each place, with room around them; padding goes to the first day."""
    whole = np.floor(visits.day)
    first = np.nanmin(whole) if np.isfinite(whole).any() else 0.0
    day = np.nan_to_num(whole - first).astype(np.int64) + DAYS_PADDING
    days = int(day.max(initial=0)) + DAYS_PADDING
    places = max(int(visits.place.max(initial=-1)) + 1, 1)
    cells = {"all": day, "place": np.maximum(visits.place, 0) * days + day}
    return cells, {"all": days, "place": days * places}


def _binned(likelihood: Singles, told: Bools, cell: Ints, size: int) -> Floats:
    """Sum likelihoods by cell, shape (cells, grid)."""
    flat, values = cell[told], likelihood[told]
    return np.stack([np.bincount(flat, weights=values[:, g], minlength=size) for g in range(values.shape[1])], axis=1)


def _spread_over(sums: Floats, days: dict[int, float]) -> Floats:
    """Add up what neighbouring days hold; a day `apart` before weighs `days[apart]`."""
    total = np.zeros_like(sums)
    for apart, weight in days.items():
        total += weight * np.roll(sums, -apart, axis=0)
    return total


def _own_window(
    day: Floats, place: Ints, likelihood: Singles, told: Bools, days: dict[int, float]
) -> tuple[Singles, Floats]:
    """What a tree itself put into its window, from up to VISITS_APART_MAX visits before and after in the same place."""
    whole = np.floor(day)
    own, seen = np.zeros_like(likelihood), np.zeros(told.shape)
    if 0 in days:
        own += days[0] * likelihood
        seen += told
    for step in range(1, min(VISITS_APART_MAX, whole.shape[1] - 1) + 1):
        late, early = slice(step, None), slice(None, -step)
        apart = np.where(place[:, late] == place[:, early], whole[:, late] - whole[:, early], np.nan)
        for gap, weight in days.items():
            here, there = (late, early) if gap <= 0 else (early, late)
            near = apart == abs(gap)
            if near.any():
                own[:, here] += np.where(near[..., None], weight * likelihood[:, there], 0.0)
                seen[:, here] += near & told[:, there]
            if gap == 0 and near.any():
                own[:, early] += np.where(near[..., None], weight * likelihood[:, late], 0.0)
                seen[:, early] += near & told[:, late]
    return own, seen
