"""What each shelter, or a head start, changes in each variety: differences between trees, pooled over the varieties.

By least squares within a variety, moderated variances (Smyth 2004, `moderated.py`) and pooling over varieties (Rubin
1981; Yu & Hoff 2018, `pooling.py`). Differences are in the unit of the measure. Valid where trees were not put under a
shelter for how they grew; a shelter that was given the best trees looks better than it is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from server.analysis.moderated import moderate, residual_squares
from server.analysis.pooling import Pooled, pool
from server.analysis.tree_seasons import SHELTERS, UNKNOWN, WARMTH, TreeSeasons

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

HEAD_START, NO_HEAD_START = "head start", "no head start"
SPREAD_SCALE = 4.0
"""Scale of the prior on how much varieties differ, in tree-to-tree standard deviations: wide, hardly a bound."""
# Grower's settings; common practice, no published source.
TREES_A_SIDE_MIN = 2
"""With fewer trees on either side nothing is said, whatever the interval."""
HEAD_START_DAYS_APART_MIN = 7.0
"""Head starts closer together than this are one and the same day's move."""
ESTIMABLE = 1e-8


@dataclass(frozen=True)
class Effects:
    """One measure under `shelter` less that under `against`, by variety; arrays of shape (varieties,).

    For a head start the difference is that which `days` of it make, and NaN days for shelters. `pooled` is None
    where nothing tells how much trees differ by chance. `trees` = trees on each side, shape (varieties, 2).
    """

    shelter: str
    against: str
    measure: str
    days: float
    variety: Ints
    raw: Floats
    trees: Ints
    pooled: Pooled | None

    def told(self) -> list[str]:
        """For each variety "more", "less" or "unknown": the interval leaves out 0, and there are trees enough."""
        if self.pooled is None:
            return ["unknown"] * len(self.variety)
        enough = self.trees.min(axis=1) >= TREES_A_SIDE_MIN
        more, less = enough & (self.pooled.low > 0), enough & (self.pooled.high < 0)
        return ["more" if up else "less" if down else "unknown" for up, down in zip(more, less, strict=True)]


@dataclass(frozen=True)
class _Fit:
    """Least squares in one variety: coefficients, their covariance for a variance of 1, the residual variance."""

    beta: Floats
    cov: Floats
    projection: Floats
    variance: float
    df: float
    treatments: Floats
    strata: Floats

    def contrast(self, weights: Floats) -> tuple[float, float] | None:
        """Value and squared standard error for a variance of 1; None where the trees cannot tell it."""
        c = np.concatenate([weights, np.zeros(len(self.beta) - len(weights))])
        if np.abs(c @ self.projection - c).max() > ESTIMABLE:
            return None
        return float(c @ self.beta), float(c @ self.cov @ c)


def compare(seasons: TreeSeasons, measure: str) -> list[Effects]:
    """Compare every pair of shelters, and head starts within shelters, on one measure, for varieties of one species.

    In each variety the tree is the unit (its seasons under one shelter are averaged, with what each year did to all
    taken off by least squares); the varieties' variances are moderated and their differences pooled as `pooling.py`
    says. The warmer shelter is named first; no direction is assumed.
    """
    known = seasons.where(np.isfinite(seasons.values[measure]) & (seasons.shelter != UNKNOWN))
    return [*_shelters(known, measure), *_head_start(known, measure)]


@dataclass(frozen=True)
class _Contrast:
    """A difference to be told: its names, `days` of head start, weights of the treatment columns."""

    shelter: str
    against: str
    measure: str
    days: float
    weights: Floats


def _shelters(seasons: TreeSeasons, measure: str) -> list[Effects]:
    present = sorted(np.unique(seasons.shelter).tolist(), key=lambda s: -WARMTH[SHELTERS[s]])
    if len(present) < 2:
        return []
    columns = (seasons.shelter[:, None] == np.array(present)).astype(float)
    # A tree that changed its shelter from year to year counts on both sides.
    unit = seasons.tree * len(SHELTERS) + seasons.shelter
    varieties, fits = _fits(seasons, measure, unit, seasons.year, columns)
    counted = np.array([(fit.treatments > 0).sum(axis=0) for fit in fits])
    found: list[Effects] = []
    for a, b in combinations(range(len(present)), 2):
        weights = np.zeros(len(present))
        weights[a], weights[b] = 1.0, -1.0
        asked = _Contrast(SHELTERS[present[a]], SHELTERS[present[b]], measure, float("nan"), weights)
        trees = counted[:, [a, b]]
        found += _effects(asked, varieties, fits, trees, trees.min(axis=1) > 0)
    return found


def _head_start(seasons: TreeSeasons, measure: str) -> list[Effects]:
    """The difference that a usual head start makes, by regression on its days within shelter and year."""
    given = seasons.head_start_days[seasons.head_start_days > 0]
    if not len(given):
        return []
    days = float(np.median(given))
    columns = seasons.head_start_days[:, None] / days
    stratum = seasons.year * len(SHELTERS) + seasons.shelter
    varieties, fits = _fits(seasons, measure, seasons.tree, stratum, columns)
    within = [days * _left_within(fit.treatments[:, 0], fit.strata) for fit in fits]
    trees = np.array([[(own > 0.5).sum(), (own < -0.5).sum()] for own in within])
    apart = np.array([np.ptp(own) >= HEAD_START_DAYS_APART_MIN for own in within])
    return list(
        _effects(_Contrast(HEAD_START, NO_HEAD_START, measure, days, np.ones(1)), varieties, fits, trees, apart)
    )


def _left_within(column: Floats, strata: Floats) -> Floats:
    """What is left of a column within the strata."""
    left: Floats = column - strata @ (np.linalg.pinv(strata) @ column)
    return left


def _fits(seasons: TreeSeasons, measure: str, unit: Ints, stratum: Ints, columns: Floats) -> tuple[Ints, list[_Fit]]:
    """Fit every variety by itself, its entries averaged by unit."""
    order = np.argsort(seasons.variety, kind="stable")
    varieties, starts = np.unique(seasons.variety[order], return_index=True)
    fits = []
    for rows in np.split(order, starts[1:]):
        _, unit_of = np.unique(unit[rows], return_inverse=True)
        strata = (stratum[rows][:, None] == np.unique(stratum[rows])).astype(float)
        entries = np.column_stack([columns[rows], strata, seasons.values[measure][rows]])
        averaged = np.zeros((int(unit_of.max()) + 1, entries.shape[1]))
        np.add.at(averaged, unit_of, entries)
        averaged /= np.bincount(unit_of)[:, None]
        split = columns.shape[1]
        fits.append(_least_squares(averaged[:, :split], averaged[:, split:-1], averaged[:, -1]))
    return varieties, fits


def _least_squares(treatments: Floats, strata: Floats, y: Floats) -> _Fit:
    design = np.column_stack([treatments, strata])
    inverse = np.linalg.pinv(design, rcond=1e-10)
    beta = inverse @ y
    df = len(y) - int(np.linalg.matrix_rank(design))
    residual = y - design @ beta
    variance = residual_squares(residual, y) / df if df > 0 else float("nan")
    return _Fit(beta, inverse @ inverse.T, inverse @ design, variance, float(df), treatments, strata)


def _effects(asked: _Contrast, varieties: Ints, fits: list[_Fit], trees: Ints, can_tell: Bools) -> Iterator[Effects]:
    """Pool one contrast over the varieties that can tell it; nothing where none can."""
    variance, df = moderate(np.array([fit.variance for fit in fits]), np.array([fit.df for fit in fits]))
    told = []
    for number in np.flatnonzero(can_tell):
        value = fits[number].contrast(asked.weights)
        if value is not None:
            told.append((number, *value))
    if not told:
        return
    at = np.array([number for number, _, _ in told])
    raw, unscaled = np.array([[value, squared] for _, value, squared in told]).T
    pooled = None
    if (variance[at] > 0).all():
        scale = SPREAD_SCALE * float(np.sqrt(variance[at].mean()))
        pooled = pool(raw, unscaled * variance[at], float(df[at].mean()), scale)
    yield Effects(asked.shelter, asked.against, asked.measure, asked.days, varieties[at], raw, trees[at], pooled)
