"""Fruit against leaves: what a tree's leaves can feed now and when the fruit swells, and how many fruits to take.

Leaves a fruit (Magness 1929, Proc. Am. Soc. Hort. Sci. 25:285-288, for apple): a tree feeds as many fruits as its
leaves, by area, divided by the leaves that one fruit needs. The leaves to come follow the trend, damped (Gardner &
McKenzie 1985, Manag. Sci. 31:1237-1246). Errors of count, trend and need are carried through by quasi-random draws.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from server.analysis.leaves import Z_90

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# A grower's settings; common practice, no published source.
SWELLS_AFTER_DAYS = 30.0
"""Days until the main crop swells, at which its leaves must be there."""
TREND_KEPT_A_DAY = 0.95
"""Of a day's growth so much is left the day after: no shoot grows on for ever."""
GROWS_AT_MOST, SHRINKS_AT_MOST = 2.0, 4.0
"""Leaves to come are at most so many times those of today, and at least one in so many."""
NEED_FACTOR = 1.5
"""Where a need comes without a range: so many times more or less, at 90 %."""
BREBA_TIMES = 1.5
"""A breba is larger than a main fruit, and is fed while leaves are few: it needs so many times the leaves."""
FRUIT_CV = 0.05
"""Coefficient of variation of a second count of the fruit."""
SLOPE_SD_A_DAY = 0.01
"""Of the trend of ln(leaves) where nothing is known about it."""
LOAD_WATCH, LOAD_ACT = 0.75, 0.95
"""From this probability of one fruit too many on: watch, act."""
SHARE_TOO_MANY = 0.15
ACT_TIMES = 1.5
"""To act on, the load must also be so many times what the leaves can feed."""
LOAD_MAX = 20.0
LEAVES_LOG_SD_MAX = 0.5
"""Beyond this error of ln(leaves) too little was counted to advise."""

DRAWS = 256
ROWS_AT_ONCE = 4096
DIMENSIONS = 5


@dataclass(frozen=True)
class Tree:
    """What is known of trees, arrays of shape (trees,).

    `leaves` now with the error `log_sd` of their logarithm, `slope` of ln(leaves) a day with `slope_sd` (NaN unknown),
    `fruit_breba` and `fruit_main` (NaN not counted), `need` leaves a fruit with its 90 % range `need_low`, `need_high`
    (NaN: NEED_FACTOR), `area_ratio` leaf area over that for which the need holds.
    """

    leaves: Floats
    log_sd: Floats
    slope: Floats
    slope_sd: Floats
    fruit_breba: Floats
    fruit_main: Floats
    need: Floats
    need_low: Floats
    need_high: Floats
    area_ratio: Floats


@dataclass(frozen=True)
class Crop:
    """What follows, shape (trees,), NaN where it cannot be said; pairs are 90 % intervals (low, high), (2, trees).

    `leaves_per_fruit` now; `leaves_to_come` when the fruit swells; `surplus` fruits beyond what the leaves feed, of
    which `remove_breba` come off first, then `remove_main`; `probability` of one fruit too many or more; `load` =
    fruits over those that can be fed. `surplus` and what makes it up are whole fruits.
    """

    leaves_per_fruit: Floats
    leaves_per_fruit_range: Floats
    leaves_to_come: Floats
    surplus: Floats
    surplus_range: Floats
    remove_breba: Floats
    remove_breba_range: Floats
    remove_main: Floats
    remove_main_range: Floats
    probability: Floats
    load: Floats

    @property
    def watch(self) -> Bools:
        """Trees with more fruit than their leaves can feed, surely enough to say so."""
        return (self.probability >= LOAD_WATCH) & (self.load >= 1.0 + SHARE_TOO_MANY)

    @property
    def act(self) -> Bools:
        """Those of them on which fruit should come off now."""
        return self.watch & (self.probability >= LOAD_ACT) & (self.load >= ACT_TIMES)


def can_say(tree: Tree) -> Bools:
    """Trees of which enough is known: leaves, at least one crop, and a need."""
    fruit = np.isfinite(tree.fruit_breba) | np.isfinite(tree.fruit_main)
    return np.isfinite(tree.leaves) & (tree.log_sd <= LEAVES_LOG_SD_MAX) & fruit & np.isfinite(tree.need)


def crop_against_leaves(tree: Tree, swells_after_days: float = SWELLS_AFTER_DAYS) -> Crop:
    """Hold each tree's fruit against its leaves.

    Brebas are fed by the leaves of today, as they swell while the shoots are still to grow; the whole crop by those of
    the day on which the main crop swells. A crop that was not counted, beside one that was, counts as none. Raises
    ValueError for negative counts or needs that are not above 0.
    """
    _check(tree)
    rows = np.flatnonzero(can_say(tree))
    out = {name: np.full(len(tree.leaves), np.nan) for name in _SINGLE}
    pairs = {name: np.full((2, len(tree.leaves)), np.nan) for name in _RANGES}
    draws = _draws()
    for start in range(0, len(rows), ROWS_AT_ONCE):
        block = rows[start : start + ROWS_AT_ONCE]
        single, ranges = _block(tree, block, draws, swells_after_days)
        for name, values in single.items():
            out[name][block] = values
        for name, values in ranges.items():
            pairs[name][:, block] = values
    return Crop(**out, **pairs)


_SINGLE = ("leaves_per_fruit", "leaves_to_come", "surplus", "remove_breba", "remove_main", "probability", "load")
_RANGES = ("leaves_per_fruit_range", "surplus_range", "remove_breba_range", "remove_main_range")


def damped_days(days: float, kept_a_day: float = TREND_KEPT_A_DAY) -> float:
    """Days of full trend that so many days of damped trend amount to: Σ keptⁱ, i = 1 … days (Gardner & McKenzie)."""
    total: float = kept_a_day * (1.0 - kept_a_day**days) / (1.0 - kept_a_day)
    return total


def _block(tree: Tree, rows: NDArray[np.int64], z: Floats, days: float) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """All figures of some trees, from draws of shape (trees, DRAWS)."""

    def of(values: Floats) -> Floats:
        return values[rows][:, None]

    leaves = of(tree.leaves) * np.exp(of(tree.log_sd) * z[0])
    sloped = np.isfinite(of(tree.slope)) & np.isfinite(of(tree.slope_sd))
    slope = np.where(sloped, of(tree.slope), 0.0)
    slope = slope + np.where(sloped, of(tree.slope_sd), SLOPE_SD_A_DAY) * z[1]
    to_come = leaves * np.exp(np.clip(slope * damped_days(days), -log(SHRINKS_AT_MOST), log(GROWS_AT_MOST)))
    need = of(tree.need) * np.exp(_need_log_sd(tree)[rows][:, None] * z[2]) / of(tree.area_ratio)
    breba, main = np.nan_to_num(of(tree.fruit_breba)), np.nan_to_num(of(tree.fruit_main))
    breba_drawn, main_drawn = (np.maximum(n * (1.0 + FRUIT_CV * z[k]), 0.0) for n, k in ((breba, 3), (main, 4)))
    fed_now, fed_then = leaves / (BREBA_TIMES * need), to_come / need
    # Fruit to take can't be more than there is, whatever the draw.
    breba_over = np.clip(breba_drawn - fed_now, 0.0, breba)
    over = np.clip(np.maximum(breba_drawn + main_drawn - fed_then, breba_over), 0.0, breba + main)
    take_breba = np.minimum(over, breba)
    take_main = over - take_breba
    fruit = breba + main
    per_fruit = leaves / np.where(fruit > 0, np.maximum(breba_drawn + main_drawn, 1e-9), np.nan)
    middle_breba, middle_main = np.round(np.median(take_breba, axis=1)), np.round(np.median(take_main, axis=1))
    loads = np.maximum(_over(breba_drawn, fed_now), _over(breba_drawn + main_drawn, fed_then))
    single = {
        "leaves_per_fruit": np.where(fruit > 0, of(tree.leaves) / np.where(fruit > 0, fruit, 1.0), np.nan)[:, 0],
        "leaves_to_come": np.median(to_come, axis=1),
        "surplus": middle_breba + middle_main,
        "remove_breba": middle_breba,
        "remove_main": middle_main,
        "probability": np.mean(over >= 1.0, axis=1),
        "load": np.median(loads, axis=1),
    }
    ranges = {
        "leaves_per_fruit_range": _range(per_fruit),
        "surplus_range": np.round(_range(over)),
        "remove_breba_range": np.round(_range(take_breba)),
        "remove_main_range": np.round(_range(take_main)),
    }
    return single, ranges


def _over(fruit: Floats, fed: Floats) -> Floats:
    """Fruit over what can be fed, at most LOAD_MAX."""
    load: Floats = fruit / np.maximum(fed, fruit / LOAD_MAX + 1e-9)
    return load


def _draws() -> Floats:
    """Standard normal quasi-random draws, shape (DIMENSIONS, DRAWS): a Kronecker lattice on powers of the root of
    x^(d+1) = x + 1 (Roberts 2018, the R-sequence), so that the same counts give the same figures.
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (DIMENSIONS + 1))
    steps = root ** -np.arange(1.0, DIMENSIONS + 1.0)
    points: Floats = ndtri((0.5 + np.outer(steps, np.arange(1, DRAWS + 1))) % 1.0)
    return points


def _need_log_sd(tree: Tree) -> Floats:
    """Spread of ln(need): its 90 % range, or NEED_FACTOR either way."""
    with np.errstate(invalid="ignore"):
        known = np.isfinite(tree.need_low) & np.isfinite(tree.need_high) & (tree.need_low > 0)
    ratio = np.where(known, tree.need_high, NEED_FACTOR) / np.where(known, tree.need_low, 1.0 / NEED_FACTOR)
    spread: Floats = np.log(ratio) / (2.0 * Z_90)
    return spread


def _range(values: Floats) -> Floats:
    """5 % and 95 % of the draws of each tree, shape (2, trees); NaN stays NaN."""
    ordered = np.sort(values, axis=1)
    at = np.array([0.05, 0.95]) * (DRAWS - 1)
    picked: Floats = ordered[:, np.round(at).astype(int)].T
    return picked


def _check(tree: Tree) -> None:
    for name in ("leaves", "fruit_breba", "fruit_main"):
        if np.any(getattr(tree, name) < 0):
            raise ValueError(f"{name} cannot be negative: count again")
    if np.any(tree.need <= 0) or np.any(tree.area_ratio <= 0):
        raise ValueError("leaves a fruit and leaf areas must be above 0: correct the setting")
