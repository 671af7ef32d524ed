"""Chains of counts on the same shoots: what links two visits, and the pace at which shoots of one tree part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# Common practice, no published source, as those of leaves.py.
LINK_DAYS_MAX = 60.0
"""Counts further apart are not linked: ribbons are tied anew in another season."""
TURNOVER_A_DAY = 0.01
"""Leaves grown or lost a day, as a share, where no marked shoots have told yet: the pace at which shoots part."""
TURNOVER_PRIOR_DF, TREE_PRIOR_DF = 10.0, 6.0
"""How much that share weighs against the collection's shoots, and the collection's against those of one tree."""
PAIR_DAYS_MIN = 10.0
"""Drift is learned over about the days whose change is reported, so that shoots of lasting vigour count in full."""


@dataclass(frozen=True)
class Shoots:
    """Counts of shape (trees, visits, shoots) with what is asked of them again and again.

    `leaves`: 0 where `there` is false; `found` shoots and leaves `on_them`, shape (trees, visits).
    """

    leaves: Floats
    there: Bools
    found: Ints
    on_them: Floats

    @staticmethod
    def of(counts: Floats) -> Shoots:
        """Counts with NaN where a shoot was not found."""
        there = np.isfinite(counts)
        leaves = np.where(there, counts, 0.0)
        return Shoots(leaves, there, there.sum(axis=2), leaves.sum(axis=2))


def link(day: Floats, shoots: Shoots) -> tuple[Floats, Ints]:
    """Leaves a shoot linked over the shoots that two visits share, and the number of the chain they belong to.

    A shoot that was not found drops out without a step in the series; one that comes back may be another shoot, so it
    counts from the visit after. A chain begins where nothing can be linked. Shape (trees, visits), NaN and −1 before.
    """
    trees, visits = day.shape
    linked, chain = np.full((trees, visits), np.nan), np.full((trees, visits), -1, dtype=np.int64)
    before, known = np.zeros_like(shoots.leaves[:, 0]), np.zeros_like(shoots.there[:, 0])
    before_day, level = np.full(trees, np.nan), np.full(trees, np.nan)
    number = np.full(trees, -1, dtype=np.int64)
    for j in range(visits):
        seen = np.flatnonzero(shoots.found[:, j])
        now, there = shoots.leaves[seen, j], shoots.there[seen, j]
        was = (before[seen] * there).sum(axis=1)
        is_now = (now * known[seen]).sum(axis=1)
        on = (was > 0) & (day[seen, j] - before_day[seen] <= LINK_DAYS_MAX)
        mean = shoots.on_them[seen, j] / shoots.found[seen, j]
        level[seen] = np.where(on, level[seen] * is_now / np.where(on, was, 1.0), mean)
        number[seen] += ~on
        before[seen], known[seen], before_day[seen] = now, there, day[seen, j]
        linked[seen, j], chain[:, j] = level[seen], number
    return linked, chain


@dataclass(frozen=True)
class Parting:
    """How far the shoots of each tree parted: squared, by leaf and day, summed up over `pairs`; shape (trees,)."""

    parted: Floats
    pairs: Floats

    def shared(self) -> float:
        """Turnover, a share a day, that all these trees together tell."""
        return float((TURNOVER_PRIOR_DF * TURNOVER_A_DAY + self.parted.sum()) / (TURNOVER_PRIOR_DF + self.pairs.sum()))

    def own(self, shared: float) -> Floats:
        """Turnover of each tree, steadied by the shared one."""
        turnover: Floats = (TREE_PRIOR_DF * shared + self.parted) / (TREE_PRIOR_DF + self.pairs)
        return turnover


def parting(day: Floats, shoots: Shoots, chain: Ints) -> Parting:
    """Learn from the residuals of the ratio of two counts over the same shoots, at least PAIR_DAYS_MIN apart."""
    trees, visits = day.shape
    first, known = np.zeros_like(shoots.leaves[:, 0]), np.zeros_like(shoots.there[:, 0])
    first_day, of = np.full(trees, np.nan), np.full(trees, -1, dtype=np.int64)
    parted, pairs = np.zeros(trees), np.zeros(trees)
    for j in range(visits):
        other = chain[:, j] != of
        begin = np.flatnonzero((shoots.found[:, j] > 0) & (other | (day[:, j] - first_day >= PAIR_DAYS_MIN)))
        if not len(begin):
            continue
        both = shoots.there[begin, j] & known[begin] & ~other[begin, None]
        x, y = first[begin] * both, shoots.leaves[begin, j] * both
        n, was, is_now = both.sum(axis=1), x.sum(axis=1), y.sum(axis=1)
        use = (n >= 2) & (was > 0) & (is_now > 0)
        off = ((y - (is_now / np.where(use, was, 1.0))[:, None] * x) ** 2).sum(axis=1)
        leaf_days = is_now / np.maximum(n, 1) * (day[begin, j] - first_day[begin])
        parted[begin[use]] += off[use] / leaf_days[use]
        pairs[begin[use]] += n[use] - 1
        first[begin], known[begin] = shoots.leaves[begin, j], shoots.there[begin, j]
        first_day[begin], of[begin] = day[begin, j], chain[begin, j]
    return Parting(parted, pairs)


def last_of_chain(chain: Ints, there: Bools) -> Ints:
    """Index of the last visit of each visit's chain at which `there` holds; −1 where there is none."""
    trees, visits = chain.shape
    key = np.arange(trees)[:, None] * (visits + 1) + chain + 1
    last = np.full(trees * (visits + 1), -1, dtype=np.int64)
    at = np.broadcast_to(np.arange(visits), chain.shape)
    np.maximum.at(last, key[there], at[there])
    return np.where(chain >= 0, last[key], -1)


def spans(chain: Ints, used: Bools) -> Ints:
    """The chain that each visit lies within, from its first used visit to its last; −1 outside."""
    at = np.arange(chain.shape[1])
    last = last_of_chain(chain, used)
    first = chain.shape[1] - 1 - last_of_chain(chain[:, ::-1], used[:, ::-1])[:, ::-1]
    return np.where((last >= 0) & (at <= last) & (at >= first), chain, -1)
