"""Simulated seasons: trees that grow, lose leaves and are counted imperfectly, with the truth kept beside them.

Sixty trees in four places, a round every three to five days, one visit in ten missed, 85 % of the fallen leaves
found. The usual loss is about 0.3 % a day and differs from tree to tree.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Setting:
    """How a season is made; `uncounted` = share of trees whose fallen leaves nobody counts."""

    trees: int = 60
    places: int = 4
    days: int = 150
    leaves_median: float = 60.0
    leaves_spread: float = 0.45
    usual_a_day: float = 0.003
    usual_spread: float = 0.4
    growth_a_day: float = 0.004
    found_share: float = 0.85
    missed_share: float = 0.10
    count_cv: float = 0.03
    uncounted: float = 0.0
    slow: int = 0
    sudden: int = 0
    moved: int = 12
    common_place: int | None = None
    common_rate_a_day: float = 0.025
    common_spread: float = 0.3
    slow_rate_a_day: float = 0.011


@dataclass
class Season:
    """Arrays of shape (trees, visits), NaN where not visited or not counted, and what really happened.

    `standing`: leaves on each tree at the end of each day, shape (trees, days).
    """

    day: Floats
    leaves: Floats
    log_var: Floats
    fallen: Floats
    place: NDArray[np.int64]
    move_day: Floats
    trouble: list[str]
    trouble_day: Floats
    rounds: Floats
    usual: Floats
    standing: Floats = field(default_factory=lambda: np.zeros((0, 0)))


def make_season(setting: Setting, seed: int) -> Season:
    """Simulate day by day; the same seed gives the same season."""
    rng = np.random.default_rng(seed)
    n = setting.trees
    trouble, trouble_day, move_day = _troubles(setting, rng)
    usual = setting.usual_a_day * rng.gamma(1 / setting.usual_spread**2, setting.usual_spread**2, n)
    growth = setting.growth_a_day * rng.gamma(4.0, 0.25, n)
    place = rng.permutation(np.arange(n) % setting.places)
    new_place = np.where(np.isfinite(move_day), (place + 1) % setting.places, place)
    response = rng.lognormal(0.0, setting.common_spread, n)
    lasting = rng.integers(1, 3, n)
    burst = 1.0 - (1.0 - rng.uniform(0.2, 0.45, n)) ** (1.0 / lasting)
    rounds = np.cumsum(rng.integers(3, 6, setting.days // 3))
    rounds = rounds[rounds < setting.days].astype(float)
    counts_fallen = rng.random(n) >= setting.uncounted
    leaves = np.maximum(rng.lognormal(np.log(setting.leaves_median), setting.leaves_spread, n).round(), 15).astype(int)
    on_ground = np.zeros(n, dtype=int)
    rows: list[list[tuple[float, float, float]]] = [[] for _ in range(n)]
    standing = np.zeros((n, setting.days))
    for today in range(setting.days):
        rate = usual.copy()
        for i, kind in enumerate(trouble):
            since = today - trouble_day[i]
            if kind == "slow" and since >= 0:
                rate[i] = max(rate[i], 0.0) + setting.slow_rate_a_day - setting.usual_a_day
            if kind == "sudden" and 0 <= since < lasting[i]:
                rate[i] += burst[i]
        here = np.where(today >= np.nan_to_num(move_day, nan=1e9), new_place, place)
        if setting.common_place is not None and today > setting.days * 0.6:
            rate = np.where(here == setting.common_place, rate + setting.common_rate_a_day * response, rate)
        lost = rng.binomial(leaves, np.clip(rate, 0, 0.9))
        season_growth = growth * np.exp(-today / 60)
        leaves = leaves - lost + rng.poisson(leaves * season_growth)
        on_ground += lost
        standing[:, today] = leaves
        if today in rounds:
            for i in range(n):
                if rng.random() < setting.missed_share:
                    continue
                seen = max(round(leaves[i] * (1 + setting.count_cv * rng.standard_normal())), 0)
                found = float(rng.binomial(on_ground[i], setting.found_share)) if counts_fallen[i] else np.nan
                on_ground[i] = 0
                rows[i].append((today + 0.4, seen, found))
    return _as_arrays(setting, rows, (place, new_place, move_day), (trouble, trouble_day), (rounds, usual, standing))


def _troubles(setting: Setting, rng: np.random.Generator) -> tuple[list[str], Floats, Floats]:
    """Deal out who suffers what, and when; the moved without trouble are there to be told apart."""
    n = setting.trees
    order = rng.permutation(n)
    trouble, trouble_day, move_day = ["sound"] * n, np.full(n, np.nan), np.full(n, np.nan)
    low, high = setting.days * 0.2, setting.days * 0.55
    for i in order[: setting.slow]:
        trouble[i], trouble_day[i] = "slow", rng.integers(low, high)
    for i in order[setting.slow : setting.slow + setting.sudden]:
        move_day[i] = rng.integers(low, high)
        trouble[i], trouble_day[i] = "sudden", move_day[i] + 1
    for i in order[setting.slow + setting.sudden :][: setting.moved]:
        move_day[i] = rng.integers(low, high)
    return trouble, trouble_day, move_day


def _as_arrays(setting, rows, where, what, truth) -> Season:
    place, new_place, move_day = where
    width = max(len(r) for r in rows)
    shape = (setting.trees, width)
    day, leaves, fallen = np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, np.nan)
    stands = np.full(shape, -1, dtype=np.int64)
    for i, seen in enumerate(rows):
        for j, (at, count, found) in enumerate(seen):
            day[i, j], leaves[i, j], fallen[i, j] = at, count, found
            stands[i, j] = new_place[i] if at >= np.nan_to_num(move_day[i], nan=1e9) else place[i]
    log_var = np.where(np.isfinite(leaves), setting.count_cv**2 + 0.25 / np.maximum(leaves, 1) ** 2, np.nan)
    return Season(day, leaves, log_var, fallen, stands, move_day, *what, *truth)
