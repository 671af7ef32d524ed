"""Leaf fall common to a place: how much more than usual everyone there loses at a time, as each tree's peers show it.

For every place and day the factor's likelihood is summed over the trees on a grid; each tree is judged by the others
only (leave one out). Some of the others may be dropping for reasons of their own, so each counts as a mixture of
"usual × factor" and "dropping" (a contaminated likelihood, after Tukey 1960); trees lately moved do not count.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from server.analysis.counts import Exposure, Visits
from server.analysis.peer_sums import PeerSums

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


def common_factor(
    visits: Visits, exposed: Exposure, own_rate: Floats, mean_rate: float, extra_spread: float, others: PeerSums
) -> Common:
    """Estimate the factor for every tree and visit from the peers in the same place and days.

    `own_rate`: shape (trees,), usual share a day; `others`: what all say together, these trees included, by the same
    rates (`sum_up`). Results have shape (trees, visits). Works through the trees in slices, which bounds its memory.
    """
    around = _around(others, visits)
    shape = visits.day.shape
    common = Common(np.ones(shape), np.zeros(shape), np.zeros(shape))
    for part, told, likelihood in _likelihoods(visits, exposed, own_rate, mean_rate, extra_spread):
        found = _judged_by_others(around, part, visits.day[part], visits.place[part], likelihood, told)
        common.factor[part], common.spread[part], common.peers[part] = found
    return common


def sum_up(visits: Visits, exposed: Exposure, own_rate: Floats, mean_rate: float, extra_spread: float) -> PeerSums:
    """Sum up what all trees say about the factor of each place and day; shapes as in `common_factor`."""
    sums = PeerSums.empty(visits.day, int(visits.place.max(initial=-1)) + 1, len(FACTORS))
    exchange(sums, visits, exposed, own_rate, mean_rate, extra_spread)
    return sums


def exchange(
    sums: PeerSums,
    visits: Visits,
    exposed: Exposure,
    own_rate: Floats,
    mean_rate: float,
    extra_spread: float,
    times: float = 1.0,
) -> None:
    """Put some trees' counts into the sums; `times` −1 takes them out again."""
    for part, told, likelihood in _likelihoods(visits, exposed, own_rate, mean_rate, extra_spread):
        sums.add(visits.day[part], visits.place[part], told, likelihood, times)


def _likelihoods(
    visits: Visits, exposed: Exposure, own_rate: Floats, mean_rate: float, extra_spread: float
) -> Iterator[tuple[slice, Bools, Singles]]:
    """Slices of the trees: which counts tell of their place, and their likelihood over the grid, 0 where they don't."""
    for at in range(0, len(visits.day), CHUNK_TREES):
        part = slice(at, at + CHUNK_TREES)
        told = exposed.counted[part] & (visits.moved_ago[part] > LATELY_MOVED_DAYS)
        likelihood = _factor_likelihood(
            visits.fallen[part], exposed.leaf_days[part], own_rate[part], mean_rate, extra_spread
        )
        likelihood[~told] = 0.0
        yield part, told, likelihood


@dataclass(frozen=True)
class _Around:
    """Sums over the cells of all visits and their neighbouring days; `all` and `here` say which row is a visit's."""

    all: Ints
    here: Ints
    near_all: Singles
    near_here: Singles
    earlier_here: Singles
    seen_all: Floats
    seen_here: Floats


def _around(sums: PeerSums, visits: Visits) -> _Around:
    days = sums.counts.shape[1]
    at = sums.day_index(visits.day)
    everywhere, in_all = _distinct(at)
    cells, in_here = _distinct(np.maximum(visits.place, 0) * days + at)
    whole, here = np.full(len(everywhere), len(sums.counts) - 1), (cells // days, cells % days)
    return _Around(
        all=in_all,
        here=in_here,
        near_all=sums.around(whole, everywhere, NEAR_DAYS),
        near_here=sums.around(*here, NEAR_DAYS),
        earlier_here=sums.around(*here, EARLIER_DAYS),
        seen_all=sums.seen_around(whole, everywhere, NEAR_DAYS),
        seen_here=sums.seen_around(*here, NEAR_DAYS),
    )


def _distinct(cells: Ints) -> tuple[Ints, Ints]:
    """The distinct cells in order, and which of them each is."""
    found, inverse = np.unique(cells, return_inverse=True)
    return found, inverse.reshape(cells.shape)


def _judged_by_others(
    around: _Around, part: slice, day: Floats, place: Ints, likelihood: Singles, told: Bools
) -> tuple[Floats, Floats, Floats]:
    """Factor, its squared CV and the number of peers for some trees, each tree's own counts taken out."""
    own_near, own_seen = _own_window(day, place, likelihood, told, NEAR_DAYS)
    own_earlier, _ = _own_window(day, place, likelihood, told, EARLIER_DAYS)
    base = np.exp(_log_prior()).astype(np.float32)
    everywhere, here = around.all[part], around.here[part]
    among_all = _shares(around.near_all[everywhere] - own_near, base)
    earlier = _shares(around.earlier_here[here] - own_earlier, base)
    prior = among_all @ (FOLLOWS_ALL_SHARE * _blur(FOLLOWS_ALL_LOG_SD))
    prior += earlier @ (GOES_ON_SHARE * _blur(GOES_ON_LOG_SD))
    prior += np.float32(1.0 - FOLLOWS_ALL_SHARE - GOES_ON_SHARE) * base
    share = _shares(around.near_here[here] - own_near, prior)
    nowhere = place < 0
    share[nowhere] = among_all[nowhere]
    moments = (share @ np.stack([FACTORS, FACTORS**2], axis=1).astype(np.float32)).astype(np.float64)
    factor = moments[..., 0]
    spread = np.clip(moments[..., 1] / factor**2 - 1.0, 0.0, SPREAD_MAX)
    peers = np.where(place >= 0, around.seen_here[here], around.seen_all[everywhere]) - own_seen
    return factor, spread, peers


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
