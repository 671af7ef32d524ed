"""The year's review: what each variety gave under each shelter, how it ranks and how surely, and the verdict.

Levels are pooled as in `pooling.py` (Rubin 1981; Smyth 2004; Yu & Hoff 2018); ranks by simulation (Laird & Louis 1989).
What counts for how much is a grower's setting. Valid for kinds of one species that were cared for alike.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from server.analysis.moderated import ROUNDING, moderate
from server.analysis.pooling import Pooled, pool
from server.analysis.tree_seasons import SHELTERS, TreeSeasons

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

Verdict = Literal["keep", "try again", "let go"]

# What a measure counts for in the rank unless the grower says otherwise: minus where less is better. A grower's
# setting, no published source.
WEIGHTS = {"yield_g": 0.4, "quality": 0.25, "days_to_ripeness": -0.15, "troubles": -0.1, "care": -0.1}
SURE = 0.8
"""From this probability of standing above (or below) the middle on, a verdict is given; a grower's setting."""
TREE_SEASONS_MIN = 2
"""No verdict rests on fewer: one tree in one year may have been lucky."""
KINDS_MIN = 2
"""With fewer kinds to compare there is no middle to stand above."""
DRAWS = 4000
SEED = 8617
SPREAD_SCALE = 4.0
"""Scale of the prior on how much kinds differ, in tree-to-tree standard deviations: wide, hardly a bound."""
YEAR_PASSES = 30


@dataclass(frozen=True)
class Level:
    """One measure by cell: `known` tree-seasons, the plain `mean` (NaN unmeasured), and the `pooled` level.

    `pooled` follows `told`, the cells that were measured; None where nothing tells how much trees differ by chance.
    """

    known: Ints
    mean: Floats
    told: Ints
    pooled: Pooled | None
    tree_sd: float

    def interval(self, cell: int) -> tuple[float, float, float]:
        """Pooled level of a cell and its 90 % interval; NaN where it was not measured."""
        at = np.flatnonzero(self.told == cell)
        if self.pooled is None or not len(at):
            return (float("nan"),) * 3
        return float(self.pooled.mean[at[0]]), float(self.pooled.low[at[0]]), float(self.pooled.high[at[0]])


@dataclass(frozen=True)
class Standing:
    """Where the cells stand among each other, each array of shape (cells,).

    `rank` 1 is best, `rank_low` to `rank_high` a 90 % interval, `above_middle` the probability of standing above the
    middle cell, `points[measure]` what each measure adds to the cell's score, in tree-to-tree standard deviations.
    """

    rank: Ints
    rank_low: Ints
    rank_high: Ints
    above_middle: Floats
    points: dict[str, Floats]


@dataclass(frozen=True)
class Cells:
    """Variety under shelter, one entry a cell: its codes, and of every tree-season its cell."""

    variety: Ints
    shelter: Ints
    of: Ints


def cells_of(seasons: TreeSeasons) -> Cells:
    """Number the varieties under shelters that occur; tree-seasons under an unknown cover have a cell of their own."""
    codes = seasons.variety * (len(SHELTERS) + 1) + seasons.shelter + 1
    kinds, of = np.unique(codes, return_inverse=True)
    return Cells(kinds // (len(SHELTERS) + 1), kinds % (len(SHELTERS) + 1) - 1, of)


def level(seasons: TreeSeasons, cells: Cells, measure: str) -> Level:
    """Level of a measure in each cell, the seasons of a tree averaged, cells pooled as far as they agree.

    What each year did to all trees is taken off first, so that the level is that of the last year. Moderated variances
    and the hierarchical normal model of `pooling.py`.
    """
    count = len(cells.variety)
    values, there = seasons.values[measure], np.isfinite(seasons.values[measure])
    cell, known = cells.of[there], np.bincount(cells.of[there], minlength=count)
    adjusted = _without_years(values[there], cell, seasons.year[there], count)
    units, unit_of = np.unique(np.stack([cell, seasons.tree[there]]), axis=1, return_inverse=True)
    unit_cell = units[0]
    unit_mean = np.bincount(unit_of.ravel(), weights=adjusted) / np.bincount(unit_of.ravel()) if len(cell) else adjusted
    size = np.bincount(unit_cell, minlength=count).astype(float)
    total = np.bincount(unit_cell, weights=unit_mean, minlength=count)
    mean = np.divide(total, size, out=np.full(count, np.nan), where=size > 0)
    apart = unit_mean - mean[unit_cell]
    apart[np.abs(apart) < ROUNDING**0.5 * np.abs(unit_mean)] = 0.0
    squares = np.bincount(unit_cell, weights=apart**2, minlength=count)
    told = np.flatnonzero(size > 0)
    df = size[told] - 1.0
    variance, freedom = moderate(squares[told] / np.maximum(df, 1.0), df)
    if not len(told) or not (variance > 0).all():
        return Level(known, mean, told, None, float("nan"))
    tree_sd = float(np.sqrt(variance.mean()))
    pooled = pool(mean[told], variance / size[told], float(freedom.mean()), SPREAD_SCALE * tree_sd)
    return Level(known, mean, told, pooled, tree_sd)


def _without_years(values: Floats, cell: Ints, year: Ints, cells: int) -> Floats:
    """Take off what each year did to all cells, as against the last year: least squares by alternating means."""
    years, year_of = np.unique(year, return_inverse=True)
    if len(years) < 2:
        return values
    effect = np.zeros(len(years))
    in_cell, in_year = np.maximum(np.bincount(cell, minlength=cells), 1), np.bincount(year_of)
    for _ in range(YEAR_PASSES):
        of_cell = np.bincount(cell, weights=values - effect[year_of], minlength=cells) / in_cell
        effect = np.bincount(year_of, weights=values - of_cell[cell]) / in_year
    adjusted: Floats = values - effect[year_of] + effect[-1]
    return adjusted


def standing(levels: dict[str, Level], cells: int, weights: Mapping[str, float] = WEIGHTS) -> Standing:
    """Rank the cells by a weighted sum of their levels, the rank's uncertainty from draws of all levels (seeded).

    `weights` by measure, minus where less is better; a measure that weighs 0 counts for nothing.
    Ranks by posterior simulation: Laird & Louis 1989, J. Educ. Stat. 14:29-46. A cell where a measure is not known
    draws it from what cells scatter by, so that what was not measured makes the rank less sure.
    """
    rng = np.random.default_rng(SEED)
    score = np.zeros((DRAWS, cells))
    points: dict[str, Floats] = {}
    for measure, weight in weights.items():
        found = levels[measure]
        shocks = rng.standard_normal((DRAWS, cells))
        if found.pooled is None or weight == 0:
            continue
        pooled = found.pooled
        centre = np.full(cells, pooled.common_mean)
        spread = np.full(cells, float(np.hypot(pooled.spread, pooled.common_sd)))
        centre[found.told], spread[found.told] = pooled.mean, pooled.sd
        score += weight * (centre + spread * shocks - pooled.common_mean) / found.tree_sd
        points[measure] = weight * (centre - pooled.common_mean) / found.tree_sd
    if points:
        drawn = np.argsort(np.argsort(-score, axis=1), axis=1)
        low, high = np.array([_rank_range(np.bincount(cell, minlength=cells) / DRAWS) for cell in drawn.T]).T
    else:
        low, high = np.ones(cells, dtype=np.int64), np.full(cells, cells)
    expected = score.mean(axis=0)
    rank = np.argsort(np.argsort(-expected, kind="stable"), kind="stable") + 1
    above = (score > np.median(score, axis=1)[:, None]).mean(axis=0) if points else np.full(cells, 0.5)
    if cells % 2:
        # The middle cell itself stands neither above nor below.
        above += 0.5 * (score == np.median(score, axis=1)[:, None]).mean(axis=0) if points else 0.0
    return Standing(rank, np.minimum(low, rank), np.maximum(high, rank), above, points)


def _rank_range(share: Floats) -> tuple[int, int]:
    """Best and worst of the ranks that hold 90 % of the probability; `share` is that of each rank, shape (ranks,).

    Cut off at 5 % on either side, whole ranks would hold far more than they state: the less likely end is left out as
    long as 90 % remain.
    """
    running = np.cumsum(share)
    low, high = int(np.searchsorted(running, 0.05)), int(np.searchsorted(running, 0.95))
    while low < high:
        lighter = min(share[low], share[high])
        if share[low : high + 1].sum() - lighter < 0.9:
            break
        low, high = (low + 1, high) if share[low] == lighter else (low, high - 1)
    return low + 1, high + 1


def verdict(above_middle: float, tree_seasons: int, kinds: int, judged: bool, sure: float = SURE) -> Verdict:
    """Keep, try again or let go; never keep or let go on one tree-season, without a yield, or without others.

    `judged` = its yield is known, and the year is far enough on; `sure` = the probability asked for, 0.5 to 1.
    """
    if tree_seasons < TREE_SEASONS_MIN or kinds < KINDS_MIN or not judged:
        return "try again"
    if above_middle >= sure:
        return "keep"
    return "let go" if above_middle <= 1.0 - sure else "try again"
