"""Marked sample shoots: the same few shoots counted at every visit, linked into one series of a tree's leaves.

What a few shoots say about the whole tree is off by a factor that stays while they are the same: in a change it
cancels. So the series carries two errors apart: `bias_var`, how far the shoots may stand off the tree (sampling n of N
shoots, Cochran 1977, Sampling Techniques, ch. 2: (1 − n/N) s²/n), and `gained_var`, how far they drift off it between
two visits (the ratio of two totals over the same units, Cochran ch. 6). Together with them goes the noise of counting.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.leaves import (
    BETWEEN_SHOOTS_CV,
    EMPTY_LEAVES,
    FULL_COUNT_CV,
    SHOOT_COUNT_CV,
    Sampling,
    log_counts,
    total_leaf_arrays,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# Common practice, no published source, as those of leaves.py.
LINK_DAYS_MAX = 60.0
"""Counts further apart are not linked: ribbons are tied anew in another season."""
SHOOTS_HOLD_DAYS = 120.0
"""A count of all growing shoots speaks for the visits of so many days before and after it."""
SPREAD_PRIOR_DF = 3.0
"""The usual spread between shoots weighs as much as that of four shoots seen."""
TURNOVER_A_DAY = 0.01
"""Leaves grown or lost a day, as a share, where no marked shoots have told yet: the pace at which shoots part."""
TURNOVER_PRIOR_DF, TREE_PRIOR_DF = 10.0, 6.0
"""How much that share weighs against the collection's shoots, and the collection's against those of one tree."""
VIGOUR_TELLS_DAYS = 200.0
"""After so many days the lasting vigour of a shoot has parted it from others as far as chance has."""
CHANGE_SDS = 2.5
"""A change beyond so many standard deviations of chance is itself the turnover of its days."""
PAIR_DAYS_MIN = 10.0
"""Drift is learned over about the days whose change is reported, so that shoots of lasting vigour count in full."""


@dataclass(frozen=True)
class MarkedShoots:
    """Counts on the marked shoots: `rows` of the trees that have any, `counts` of shape (rows, visits, shoots).

    NaN: the shoot was not found, or not counted.
    """

    rows: Ints
    counts: Floats


@dataclass(frozen=True)
class LeafCounts:
    """What the visits say about all leaves, shape (trees, visits), NaN where nothing: see the module's own words.

    `total` is what was counted or reckoned up; `log_leaves` the series of the trend, with the variance `log_var` of
    each visit's counting; `sampling` is 0 for trees without marked shoots.
    """

    total: Floats
    log_leaves: Floats
    log_var: Floats
    sampling: Sampling


def count_leaves(
    day: Floats, leaves: Floats, shoots: Floats, leaves_per_shoot: Floats, marked: MarkedShoots | None = None
) -> LeafCounts:
    """Bring full counts, samples and marked shoots of all trees together; arrays of shape (trees, visits).

    `day` increases, NaN pads at the right. A full count on the day of marked shoots sets what they stand for.
    """
    total, log_sd = total_leaf_arrays(leaves, shoots, leaves_per_shoot)
    log_leaves, log_var, bias, gained = log_counts(total), log_sd**2, np.zeros_like(total), np.zeros_like(total)
    if marked is not None and len(marked.rows):
        rows = marked.rows
        series = _series(day[rows], leaves[rows], shoots[rows], marked.counts)
        bias[rows], gained[rows] = _standing_off(series)
        there = np.isfinite(series.total)
        log_leaves[rows] = np.where(there, log_counts(series.total), log_leaves[rows])
        log_var[rows] = np.where(there, series.noise, log_var[rows] + bias[rows])
        total[rows] = np.where(np.isfinite(total[rows]), total[rows], series.total)
    return LeafCounts(total, log_leaves, log_var, Sampling(bias, gained))


@dataclass(frozen=True)
class _Series:
    """Totals by marked shoots: `chain` numbers the spans in which they are linked, −1 outside of them."""

    total: Floats
    noise: Floats
    bias: Floats
    drift: Floats
    chain: Ints


def _series(day: Floats, leaves: Floats, shoots: Floats, counts: Floats) -> _Series:
    linked, chain = _chains(day, counts)
    found, on_them = np.isfinite(counts).sum(axis=2), np.nansum(counts, axis=2)
    seen = found > 0
    base = _last_of_chain(chain, seen & (leaves > 0) & (linked > 0))
    row, at = np.arange(len(day))[:, None], np.maximum(base, 0)
    scale = np.where(base >= 0, leaves[row, at] / np.maximum(linked[row, at], 1e-9), np.nan)
    all_shoots = _shoots_between(day, shoots)
    unseen = 1.0 - found / np.fmax(np.fmax(np.where(np.isnan(all_shoots), scale, all_shoots), found), 1.0)
    drift = _drift(day, counts, linked, chain, unseen / np.maximum(on_them, EMPTY_LEAVES))
    # Where all shoots are counted again and again, that error is new each time; else it stays as it is.
    again = np.isfinite(shoots) & (np.isfinite(shoots).sum(axis=1) > 1)[:, None]
    noise = FULL_COUNT_CV**2 + 0.25 / np.maximum(on_them, EMPTY_LEAVES) ** 2 + np.where(again, SHOOT_COUNT_CV**2, 0.0)
    bias = _sampling_var(counts, unseen) + np.where(again, 0.0, SHOOT_COUNT_CV**2)
    since, days = np.cumsum(drift, axis=1), np.abs(day - day[row, at])
    since = np.abs(since - since[row, at]) * (1.0 + days / VIGOUR_TELLS_DAYS)
    bias = np.where(base >= 0, np.minimum(bias, FULL_COUNT_CV**2 + since), bias)
    total = linked * np.where(base >= 0, scale, np.maximum(all_shoots, found))
    used = seen & np.isfinite(total)
    return _Series(np.where(used, total, np.nan), noise, bias, drift, _spans(chain, used))


def _chains(day: Floats, counts: Floats) -> tuple[Floats, Ints]:
    """Leaves a shoot linked over the shoots that two visits share, and the number of the chain they belong to.

    A shoot that was not found drops out without a step in the series; one that comes back may be another shoot, so it
    counts from the visit after. A chain begins where nothing can be linked. Shape (trees, visits).
    """
    trees, visits, places = counts.shape
    linked, chain = np.full((trees, visits), np.nan), np.full((trees, visits), -1, dtype=np.int64)
    before, before_day = np.full((trees, places), np.nan), np.full(trees, np.nan)
    level, number = np.full(trees, np.nan), np.full(trees, -1, dtype=np.int64)
    for j in range(visits):
        now = counts[:, j]
        there = np.isfinite(now)
        seen = there.any(axis=1)
        both = there & np.isfinite(before)
        was, is_now = (np.where(both, each, 0.0).sum(axis=1) for each in (before, now))
        on = seen & (was > 0) & (day[:, j] - before_day <= LINK_DAYS_MAX)
        mean = np.nansum(now, axis=1) / np.maximum(there.sum(axis=1), 1)
        level = np.where(on, level * is_now / np.maximum(was, 1.0), np.where(seen, mean, level))
        number = number + (seen & ~on)
        before[seen], before_day = now[seen], np.where(seen, day[:, j], before_day)
        linked[seen, j], chain[:, j] = level[seen], number
    return linked, chain


def _shoots_between(day: Floats, shoots: Floats) -> Floats:
    """All growing shoots at each visit, in a straight line between their counts; NaN too far from any."""
    found = np.full_like(day, np.nan)
    for row in np.flatnonzero(np.isfinite(shoots).any(axis=1)):
        known = np.isfinite(shoots[row])
        on = day[row, known]
        after = np.minimum(np.searchsorted(on, day[row]), len(on) - 1)
        away = np.minimum(np.abs(day[row] - on[after]), np.abs(day[row] - on[np.maximum(after - 1, 0)]))
        near = away <= SHOOTS_HOLD_DAYS
        found[row, near] = np.interp(day[row, near], on, shoots[row, known])
    return found


def _sampling_var(counts: Floats, unseen: Floats) -> Floats:
    """Squared relative error of the mean of the shoots found; their own spread, steadied by the usual one."""
    n = np.isfinite(counts).sum(axis=2)
    mean = np.nansum(counts, axis=2) / np.maximum(n, 1)
    off = np.nansum((counts - mean[:, :, None]) ** 2, axis=2)
    mean = np.maximum(mean, EMPTY_LEAVES)
    usual = 1.0 / mean + BETWEEN_SHOOTS_CV**2
    spread = (SPREAD_PRIOR_DF * usual + off / mean**2) / (SPREAD_PRIOR_DF + np.maximum(n - 1, 0))
    squared: Floats = unseen * spread / np.maximum(n, 1)
    return squared


def _drift(day: Floats, counts: Floats, linked: Floats, chain: Ints, unseen_a_leaf: Floats) -> Floats:
    """Variance by which the marked shoots part from their tree in the interval before each visit.

    Leaves come and go shoot by shoot: as many as the usual turnover, and at least as many as the change itself.
    """
    turnover = _turnover(day, counts, chain)
    marked = np.isfinite(linked)
    last = np.maximum.accumulate(np.where(marked, np.arange(day.shape[1]), -1), axis=1)
    row, at = np.arange(len(day))[:, None], np.maximum(last, 0)
    days = np.nan_to_num(np.diff(day, axis=1, prepend=day[:, :1]))
    drift = turnover[:, None] * days
    before = np.full_like(linked, np.nan)
    before[:, 1:] = linked[row, at][:, :-1]
    same = np.zeros(chain.shape, dtype=bool)
    same[:, 1:] = (chain[:, 1:] == chain[:, :-1]) & (chain[:, 1:] >= 0)
    change = np.abs(linked / np.where(before > 0, before, np.nan) - 1.0)
    large = marked & (change > drift + CHANGE_SDS * np.sqrt(drift * unseen_a_leaf))
    drift = np.where(large, change, drift)
    return np.where(same, drift * unseen_a_leaf[row, at], 0.0)


def _turnover(day: Floats, counts: Floats, chain: Ints) -> Floats:
    """Share of leaves a day by which the marked shoots of each tree part, shape (trees,).

    From the residuals of the ratio of two counts over the same shoots, PAIR_DAYS_MIN apart; the collection's own share
    steadies each tree's.
    """
    trees, visits, places = counts.shape
    first, first_day = np.full((trees, places), np.nan), np.full(trees, np.nan)
    of = np.full(trees, -1, dtype=np.int64)
    parted, pairs = np.zeros(trees), np.zeros(trees)
    for j in range(visits):
        now = counts[:, j]
        seen = np.isfinite(now).any(axis=1)
        both = np.isfinite(now) & np.isfinite(first)
        x, y = np.where(both, first, 0.0), np.where(both, now, 0.0)
        n, was, is_now = both.sum(axis=1), x.sum(axis=1), y.sum(axis=1)
        days = day[:, j] - first_day
        far, other = seen & (days >= PAIR_DAYS_MIN), seen & (chain[:, j] != of)
        use = far & ~other & (n >= 2) & (was > 0) & (is_now > 0)
        off = ((y - (is_now / np.maximum(was, 1.0))[:, None] * x) ** 2).sum(axis=1)
        parted[use] += off[use] / (is_now[use] / n[use] * days[use])
        pairs[use] += n[use] - 1
        begin = far | other
        first[begin], first_day[begin], of[begin] = now[begin], day[begin, j], chain[begin, j]
    shared = (TURNOVER_PRIOR_DF * TURNOVER_A_DAY + parted.sum()) / (TURNOVER_PRIOR_DF + pairs.sum())
    turnover: Floats = (TREE_PRIOR_DF * shared + parted) / (TREE_PRIOR_DF + pairs)
    return turnover


def _last_of_chain(chain: Ints, there: Bools) -> Ints:
    """Index of the last visit of each visit's chain at which `there` holds; −1 where there is none."""
    trees, visits = chain.shape
    key = np.arange(trees)[:, None] * (visits + 1) + chain + 1
    last = np.full(trees * (visits + 1), -1, dtype=np.int64)
    at = np.broadcast_to(np.arange(visits), chain.shape)
    np.maximum.at(last, key[there], at[there])
    return np.where(chain >= 0, last[key], -1)


def _spans(chain: Ints, used: Bools) -> Ints:
    """The chain that each visit lies within, from its first used visit to its last; −1 outside."""
    at = np.arange(chain.shape[1])
    last = _last_of_chain(chain, used)
    first = chain.shape[1] - 1 - _last_of_chain(chain[:, ::-1], used[:, ::-1])[:, ::-1]
    return np.where((last >= 0) & (at <= last) & (at >= first), chain, -1)


def _standing_off(series: _Series) -> tuple[Floats, Floats]:
    """Bias at each visit and what is gained before it: drift within a chain, both biases where one kind of count ends.

    A count of another kind within a chain is told apart by the bias alone, as if it were new at each such visit.
    """
    marked, within = np.isfinite(series.total), series.chain >= 0
    last = np.maximum.accumulate(np.where(marked, np.arange(marked.shape[1]), -1), axis=1)
    row, at = np.arange(len(marked))[:, None], np.maximum(last, 0)
    bias = np.where(within, series.bias[row, at], 0.0)
    gained = np.where(within, series.drift, 0.0)
    changes = series.chain[:, 1:] != series.chain[:, :-1]
    gained[:, 1:] = np.where(changes, bias[:, 1:] + bias[:, :-1], gained[:, 1:])
    return bias, gained
