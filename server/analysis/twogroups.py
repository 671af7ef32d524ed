"""Two groups of trees held against each other: how much they differ on average, and how surely that can be said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVEL = 0.90
PAIRED_SHARE_MIN = 0.5
PAIRED_MIN = 3
"""Where so many trees, and so large a share of the smaller group, stand in both, each is held against itself."""


@dataclass(frozen=True)
class Gap:
    """Mean of the first group less that of the second, in the measure's unit, with its 90 % interval.

    `low` and `high` are None where chance can't be judged: fewer than two trees on a side, or all alike. `paired`:
    trees that stood in both groups were held against themselves. `trees`: how many on each side; `df` degrees of
    freedom, NaN where there is no interval.
    """

    difference: float
    low: float | None
    high: float | None
    paired: bool
    trees: tuple[int, int]
    df: float

    @property
    def told(self) -> str:
        """more, less or unknown."""
        if self.low is None or self.high is None:
            return "unknown"
        return "more" if self.low > 0 else "less" if self.high < 0 else "unknown"


def by_tree(tree: Ints, value: Floats) -> dict[int, float]:
    """Each tree's mean over its seasons, so that a tree of many seasons counts once; unknown values are left out."""
    known = np.isfinite(value)
    names, inverse = np.unique(tree[known], return_inverse=True)
    sums = np.bincount(inverse, weights=value[known], minlength=len(names))
    means = sums / np.maximum(np.bincount(inverse, minlength=len(names)), 1)
    return dict(zip(names.tolist(), means.tolist(), strict=True))


def gap(first: dict[int, float], second: dict[int, float]) -> Gap | None:
    """Compare two groups given as each tree's value, by tree; None where one of them is empty.

    Unequal variances: Welch, B. L. (1947), Biometrika 34:28-35. Trees on both sides: Student (1908), Biometrika 6:1-25.
    """
    if not first or not second:
        return None
    both = sorted(first.keys() & second.keys())
    sides = (len(first), len(second))
    if len(both) >= max(PAIRED_MIN, PAIRED_SHARE_MIN * min(sides)):
        apart = np.array([first[tree] - second[tree] for tree in both])
        spread = float(apart.std(ddof=1)) / np.sqrt(len(apart))
        return _gap(float(apart.mean()), spread, float(len(apart) - 1), True, (len(both), len(both)))
    a, b = (np.array(list(side.values())) for side in (first, second))
    difference = float(a.mean() - b.mean())
    if min(sides) < 2:
        return Gap(difference, None, None, False, sides, float("nan"))
    parts = np.array([a.var(ddof=1) / len(a), b.var(ddof=1) / len(b)])
    if parts.sum() <= 0:
        return Gap(difference, None, None, False, sides, float("nan"))
    df = float(parts.sum() ** 2 / (parts**2 / (np.array(sides) - 1)).sum())
    return _gap(difference, float(np.sqrt(parts.sum())), df, False, sides)


def _gap(difference: float, error: float, df: float, paired: bool, trees: tuple[int, int]) -> Gap:
    if error <= 0:
        return Gap(difference, None, None, paired, trees, float("nan"))
    half = float(stdtrit(df, 0.5 + LEVEL / 2)) * error
    return Gap(difference, difference - half, difference + half, paired, trees, df)


def without_years(value: Floats, year: Ints) -> Floats:
    """Take off what each year did to all: every year's mean is brought to the mean of all years."""
    adjusted = value.copy()
    overall = float(np.nanmean(value)) if np.isfinite(value).any() else 0.0
    for one in np.unique(year):
        mine = (year == one) & np.isfinite(value)
        if mine.any():
            adjusted[mine] += overall - value[mine].mean()
    return adjusted
