"""How often stated intervals of the trend and of the crop hold what was simulated, season by season.

A season is judged from its visits up to some day, as a grower would ask in the middle of it. Every season has a shape
of its own: large and small trees, good and poor counting, slow and sudden losses, a leaf fall that a place shares.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.crop import BREBA_TIMES, SWELLS_AFTER_DAYS, Crop, Tree, crop_against_leaves
from server.analysis.leaves import Z_90, log_counts, total_leaf_arrays
from server.analysis.species_table import species_table
from server.analysis.trend import CHANGE_DAYS, Trends, leaf_trends
from tests.analysis.seasons import Season, Setting

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

SHOOTS_LOOKED_AT = 5
SHOOTS_CV = 0.35
SAMPLED_TREES = 20
NEED = species_table()["fig"].figures["leaves_per_fruit"]


@dataclass(frozen=True)
class Covered:
    """Whether each tree's interval held the truth, and the share of its band that did, shape (trees,)."""

    leaves: Bools
    change: Bools
    band: Floats


def setting_of(seed: int, trees: int = 60) -> Setting:
    """A season's shape, drawn."""
    rng = np.random.default_rng([seed, 31])
    return Setting(
        trees=trees,
        leaves_median=float(rng.uniform(25, 150)),
        growth_a_day=float(rng.uniform(0.002, 0.01)),
        count_cv=float(rng.uniform(0.02, 0.05)),
        slow=int(rng.integers(0, 8)),
        sudden=int(rng.integers(0, 6)),
        common_place=1 if rng.random() < 0.3 else None,
    )


def asked(season: Season, until_day: float, sampled: np.random.Generator | None = None) -> tuple[Floats, Trends]:
    """Days of the visits up to a day, and the trends by them; counts are full, or of five shoots where `sampled`.

    Sampled, only the first SAMPLED_TREES are looked at, as each of their shoots is drawn.
    """
    trees = len(season.day) if sampled is None else SAMPLED_TREES
    seen = season.day[:trees] <= until_day
    width = int(seen.sum(axis=1).max())
    day = np.where(seen, season.day[:trees], np.nan)[:, :width]
    nothing = np.full(day.shape, np.nan)
    if sampled is None:
        totals, log_sd = total_leaf_arrays(np.where(seen, season.leaves[:trees], np.nan)[:, :width], nothing, nothing)
    else:
        totals, log_sd = total_leaf_arrays(nothing, *_shoots_looked_at(season, day, sampled))
    return day, leaf_trends(day, log_counts(totals), log_sd**2)


def _shoots_looked_at(season: Season, day: Floats, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Shoots of each tree and leaves a shoot on five of them, picked anew at each visit, as a grower writes them."""
    shoots, per_shoot = np.full(day.shape, np.nan), np.full(day.shape, np.nan)
    for tree in range(len(day)):
        total = max(int(season.standing[tree, 0] // 8), 3)
        share = rng.gamma(1 / SHOOTS_CV**2, 1.0, total)
        for visit in np.flatnonzero(np.isfinite(day[tree])):
            leaves = rng.multinomial(int(season.standing[tree, int(day[tree, visit])]), share / share.sum())
            picked = rng.choice(leaves, min(SHOOTS_LOOKED_AT, total), replace=False)
            shoots[tree, visit] = max(round(total * (1 + 0.03 * rng.standard_normal())), 1)
            per_shoot[tree, visit] = round(float(picked.mean()), 1)
    return shoots, per_shoot


def trends_covered(season: Season, day: Floats, found: Trends) -> Covered:
    """Hold the trend's intervals against the leaves that really were on the trees."""
    rows = np.arange(len(day))[:, None]
    truth = np.where(np.isfinite(day), season.standing[rows, np.nan_to_num(day).astype(int)], np.nan)
    last = np.isfinite(day).sum(axis=1) - 1
    at = np.arange(len(day))
    now = truth[at, last]
    early = day <= day[at, last][:, None] - CHANGE_DAYS
    start = np.maximum(early.sum(axis=1) - 1, 0)
    days = day[at, last] - day[at, start]
    logs = np.log(np.maximum(truth, 0.5))
    change = 100 * np.expm1(7 * (logs[at, last] - logs[at, start]) / days)
    inside = (found.smooth_low <= truth) & (truth <= found.smooth_high)
    return Covered(
        leaves=(found.leaves_low <= now) & (now <= found.leaves_high),
        change=(found.change_low <= change) & (change <= found.change_high),
        band=inside.sum(axis=1) / np.isfinite(day).sum(axis=1),
    )


@dataclass(frozen=True)
class Fruited:
    """What was said of trees with fruit, and the truth: leaves a fruit and fruits to take, shape (trees,)."""

    said: Crop
    counted: Floats
    per_fruit: Floats
    surplus: Floats

    @property
    def per_fruit_held(self) -> Bools:
        """Trees whose leaves a fruit lay in their interval."""
        low, high = self.said.leaves_per_fruit_range
        return (low <= self.per_fruit) & (self.per_fruit <= high)

    @property
    def surplus_held(self) -> Bools:
        """Of the trees on which some fruit and not all must come off, those whose number lay in its interval.

        At none and at all an interval of whole fruits is cut off, and holds the truth nearly always.
        """
        low, high = self.said.surplus_range
        inside = (self.surplus > 2) & (self.surplus < self.counted - 2)
        return ((low - 0.5 <= self.surplus) & (self.surplus <= high + 0.5))[inside]


def fruited(season: Season, day: Floats, found: Trends, rng: np.random.Generator) -> Fruited:
    """Hang fruit on the trees, count it at the last visit, and work out what the leaves of a month on really feed."""
    n = len(day)
    last = np.nanmax(day, axis=1).astype(int)
    now, then = (season.standing[np.arange(n), last + ahead] for ahead in (0, int(SWELLS_AFTER_DAYS)))
    need = NEED.value * np.exp(np.log(NEED.high / NEED.low) / (2 * Z_90) * rng.standard_normal(n))
    breba = np.round(now / (BREBA_TIMES * NEED.value) * rng.uniform(0.5, 2.0, n)) * (rng.random(n) < 0.5)
    main = np.round(now / NEED.value * rng.uniform(0.5, 2.5, n)) + 1
    seen_breba, seen_main = (np.round(fruit * (1 + 0.05 * rng.standard_normal(n))) for fruit in (breba, main))
    tree = Tree(
        leaves=found.leaves,
        log_sd=np.log(found.leaves_high / found.leaves) / Z_90,
        slope=np.log1p(found.change / 100.0) / 7.0,
        slope_sd=(np.log1p(found.change_high / 100.0) - np.log1p(found.change_low / 100.0)) / (14.0 * Z_90),
        fruit_breba=seen_breba,
        fruit_main=seen_main,
        need=np.full(n, NEED.value),
        need_low=np.full(n, NEED.low),
        need_high=np.full(n, NEED.high),
        area_ratio=np.ones(n),
    )
    breba_over = np.clip(breba - now / (BREBA_TIMES * need), 0.0, None)
    over = np.maximum(breba + main - then / need, breba_over)
    return Fruited(crop_against_leaves(tree), seen_breba + seen_main, now / (breba + main), over)
