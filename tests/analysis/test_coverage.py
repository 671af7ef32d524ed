"""Stated 90 % intervals of trend and crop over a few simulated seasons; over many in tests/benchmarks."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.leaves import Z_90, total_leaf_arrays
from server.analysis.trend import leaf_trends
from server.analysis.unrest import extra_movement
from tests.analysis.covering import asked, fruited, setting_of, trends_covered
from tests.analysis.seasons import Setting, make_season

SEEDS = range(8)
LOWEST, HIGHEST = 0.86, 0.94
"""So few seasons stray by a point or two; over many the bounds are 0.87 and 0.93."""


def test_trend_and_crop_hold_the_truth_nine_times_in_ten() -> None:
    held: dict[str, list[np.ndarray]] = {"leaves": [], "change": [], "band": [], "per fruit": [], "surplus": []}
    for seed in SEEDS:
        season, rng = make_season(setting_of(seed), seed), np.random.default_rng([seed, 7])
        day, found = asked(season, float(rng.uniform(30, 115)))
        covered, fruit = trends_covered(season, day, found), fruited(season, day, found, rng)
        held["leaves"].append(covered.leaves)
        held["change"].append(covered.change)
        held["band"].append(covered.band)
        held["per fruit"].append(fruit.per_fruit_held)
        held["surplus"].append(fruit.surplus_held)
    for name, each in held.items():
        assert LOWEST <= np.concatenate(each).mean() <= HIGHEST, name


@pytest.mark.parametrize("leaves", [60, 200])
def test_a_full_count_states_its_error(leaves: int) -> None:
    """Counted again and again with an error of 3 %, the assumption that `leaves.py` names."""
    rng = np.random.default_rng(leaves)
    true = rng.poisson(leaves, 4000)
    counted = np.round(true * (1 + 0.03 * rng.standard_normal(4000)))
    nothing = np.full(4000, np.nan)
    total, log_sd = total_leaf_arrays(counted, nothing, nothing)
    inside = np.abs(np.log(total) - np.log(true)) <= Z_90 * log_sd
    assert 0.87 <= inside.mean() <= 0.93


def test_trees_that_shed_are_held_as_well_as_sound_ones() -> None:
    """Of trees in trouble and of a place in a common fall the bands of calm trees would hold half to two thirds."""
    troubled, fallen = [], []
    for seed in range(4):
        season = make_season(Setting(slow=15, sudden=15), 40 + seed)
        day, found = asked(season, 95.0)
        began = season.trouble_day + 4.0 < np.nanmax(day, axis=1)
        troubled.append(trends_covered(season, day, found).change[began])
        season = make_season(Setting(common_place=1, days=130), 60 + seed)
        day, found = asked(season, 110.0)
        fallen.append(trends_covered(season, day, found).change[season.place[:, 0] == 1])
    assert np.concatenate(troubled).mean() >= 0.85
    assert np.concatenate(fallen).mean() >= 0.80


def test_unrest_is_found_where_a_tree_moved() -> None:
    day = np.tile(np.arange(0.0, 80.0, 4.0), (2, 1))
    log_leaves = np.full(day.shape, 4.0) + 0.01 * (-1.0) ** np.arange(20)
    log_leaves[1, 10:] -= 0.5
    found = leaf_trends(day, log_leaves, np.full(day.shape, 0.03**2))
    extra = extra_movement(found.track, day)
    assert not extra[0].any()
    assert not extra[1, :7].any()
    assert extra[1, 10] > 5 * extra[1, 14:].max()
