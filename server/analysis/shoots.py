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
from server.analysis.shootchains import TURNOVER_A_DAY, Shoots, last_of_chain, link, parting, spans

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Common practice, no published source, as those of leaves.py.
SHOOTS_HOLD_DAYS = 120.0
"""A count of all growing shoots speaks for the visits of so many days before and after it."""
SPREAD_PRIOR_DF = 3.0
"""The usual spread between shoots weighs as much as that of four shoots seen."""
VIGOUR_TELLS_DAYS = 200.0
"""After so many days the lasting vigour of a shoot has parted it from others as far as chance has."""
CHANGE_SDS = 2.5
"""A change beyond so many standard deviations of chance is itself the turnover of its days."""


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
    each visit's counting; `sampling` is 0 for trees without marked shoots. `turnover_a_day`: see TURNOVER_A_DAY.
    """

    total: Floats
    log_leaves: Floats
    log_var: Floats
    sampling: Sampling
    turnover_a_day: float


def count_leaves(
    day: Floats,
    numbers: tuple[Floats, Floats, Floats],
    marked: MarkedShoots | None = None,
    turnover_a_day: float | None = None,
) -> LeafCounts:
    """Bring full counts, samples and marked shoots of all trees together; arrays of shape (trees, visits).

    `day` increases, NaN pads at the right; `numbers`: all leaves, all growing shoots, leaves a shoot. A full count
    beside marked shoots sets what they stand for. `turnover_a_day` is learned from these trees where it is not given.
    """
    leaves, shoots, leaves_per_shoot = numbers
    total, log_sd = total_leaf_arrays(leaves, shoots, leaves_per_shoot)
    log_leaves, log_var, bias, gained = log_counts(total), log_sd**2, np.zeros_like(total), np.zeros_like(total)
    turnover = TURNOVER_A_DAY if turnover_a_day is None else turnover_a_day
    if marked is not None and len(marked.rows):
        rows = marked.rows
        series = _series(day[rows], leaves[rows], shoots[rows], marked.counts, turnover_a_day)
        turnover = series.turnover_a_day
        bias[rows], gained[rows] = _standing_off(series)
        there = np.isfinite(series.total)
        log_leaves[rows] = np.where(there, log_counts(series.total), log_leaves[rows])
        log_var[rows] = np.where(there, series.noise, log_var[rows] + bias[rows])
        total[rows] = np.where(np.isfinite(total[rows]), total[rows], series.total)
    return LeafCounts(total, log_leaves, log_var, Sampling(bias, gained), turnover)


@dataclass(frozen=True)
class _Series:
    """Totals by marked shoots: `chain` numbers the spans in which they are linked, −1 outside of them."""

    total: Floats
    noise: Floats
    bias: Floats
    drift: Floats
    chain: Ints
    turnover_a_day: float


def _series(day: Floats, leaves: Floats, all_shoots: Floats, counts: Floats, turnover_a_day: float | None) -> _Series:
    marked = Shoots.of(counts)
    linked, chain = link(day, marked)
    parted = parting(day, marked, chain)
    turnover = parted.shared() if turnover_a_day is None else turnover_a_day
    found, on_them = marked.found, np.maximum(marked.on_them, EMPTY_LEAVES)
    base = last_of_chain(chain, (found > 0) & (leaves > 0) & (linked > 0))
    row, at = np.arange(len(day))[:, None], np.maximum(base, 0)
    scale = np.where(base >= 0, leaves[row, at] / np.maximum(linked[row, at], 1e-9), np.nan)
    known = _shoots_between(day, all_shoots)
    unseen = 1.0 - found / np.fmax(np.fmax(np.where(np.isnan(known), scale, known), found), 1.0)
    drift = _drift(day, linked, chain, parted.own(turnover), unseen / on_them)
    # Where all shoots are counted again and again, that error is new each time; else it stays as it is.
    again = np.isfinite(all_shoots) & (np.isfinite(all_shoots).sum(axis=1) > 1)[:, None]
    noise = FULL_COUNT_CV**2 + 0.25 / on_them**2 + np.where(again, SHOOT_COUNT_CV**2, 0.0)
    bias = _sampling_var(marked, unseen) + np.where(again, 0.0, SHOOT_COUNT_CV**2)
    since, days = np.cumsum(drift, axis=1), np.abs(day - day[row, at])
    since = np.abs(since - since[row, at]) * (1.0 + days / VIGOUR_TELLS_DAYS)
    bias = np.where(base >= 0, np.minimum(bias, FULL_COUNT_CV**2 + since), bias)
    total = linked * np.where(base >= 0, scale, np.maximum(known, found))
    used = (found > 0) & np.isfinite(total)
    return _Series(np.where(used, total, np.nan), noise, bias, drift, spans(chain, used), turnover)


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


def _sampling_var(marked: Shoots, unseen: Floats) -> Floats:
    """Squared relative error of the mean of the shoots found; their own spread, steadied by the usual one."""
    n = np.maximum(marked.found, 1)
    mean = marked.on_them / n
    off = np.maximum((marked.leaves**2).sum(axis=2) - n * mean**2, 0.0)
    mean = np.maximum(mean, EMPTY_LEAVES)
    usual = 1.0 / mean + BETWEEN_SHOOTS_CV**2
    spread = (SPREAD_PRIOR_DF * usual + off / mean**2) / (SPREAD_PRIOR_DF + n - 1)
    squared: Floats = unseen * spread / n
    return squared


def _drift(day: Floats, linked: Floats, chain: Ints, turnover: Floats, unseen_a_leaf: Floats) -> Floats:
    """Variance by which the marked shoots part from their tree in the interval before each visit.

    Leaves come and go shoot by shoot: as many as the tree's turnover, shape (trees,), or as a large change itself.
    """
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
