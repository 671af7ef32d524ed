"""Direction and interval of the leaf trend."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.health import WEIGHTS, health
from server.analysis.kalman import Variances
from server.analysis.trend import CHANGE_DAYS, direction_of, leaf_trends


def walks(trees=600, visits=30, seed=4):
    """Trees that follow the model: levels and slopes at random, counts with an error of 5 %."""
    rng = np.random.default_rng(seed)
    day = np.cumsum(rng.integers(3, 6, (trees, visits)), axis=1).astype(float)
    q = Variances(level_a_day=2e-4, slope_a_day=2e-6, slope_start=1.5e-4)
    level, slope = np.zeros(day.shape), np.zeros(day.shape)
    level[:, 0], slope[:, 0] = 4.0, rng.normal(0, np.sqrt(q.slope_start), trees)
    for j in range(1, visits):
        dt = day[:, j] - day[:, j - 1]
        chol = np.stack([np.sqrt(dt**3 / 3), np.zeros_like(dt), np.sqrt(3 * dt) / 2, np.sqrt(dt) / 2])
        a, b = rng.standard_normal((2, trees)) * np.sqrt(q.slope_a_day)
        jump = rng.standard_normal(trees) * np.sqrt(q.level_a_day * dt)
        level[:, j] = level[:, j - 1] + slope[:, j - 1] * dt + chol[0] * a + jump
        slope[:, j] = slope[:, j - 1] + chol[2] * a + chol[3] * b
    y = level + 0.05 * rng.standard_normal(day.shape)
    y[rng.random(day.shape) < 0.1] = np.nan
    y[:, -1] = level[:, -1] + 0.05 * rng.standard_normal(trees)
    return day, y, level, slope


def recent(day, level):
    """True mean change a day over the last CHANGE_DAYS."""
    start = day.shape[1] - 1 - np.argmax((day <= day[:, -1:] - CHANGE_DAYS)[:, ::-1], axis=1)
    rows = np.arange(len(day))
    return (level[:, -1] - level[rows, start]) / (day[:, -1] - day[rows, start])


def test_ninety_percent_intervals_cover_ninety_percent():
    """600 simulated seasons, variances fitted to them: slope and leaves covered between 87 and 93 %."""
    day, y, level, _ = walks()
    found = leaf_trends(day, y, np.full(day.shape, 0.05**2))
    change = 100 * np.expm1(7 * recent(day, level))
    inside = (found.change_low <= change) & (change <= found.change_high)
    assert 0.87 <= inside.mean() <= 0.93
    leaves = np.exp(level[:, -1])
    inside = (found.leaves_low <= leaves) & (leaves <= found.leaves_high)
    assert 0.87 <= inside.mean() <= 0.93


def test_a_direction_is_wrong_for_few_trees():
    day, y, level, _ = walks(seed=6)
    found = leaf_trends(day, y, np.full(day.shape, 0.05**2))
    named = np.array([d in ("rising", "falling") for d in found.direction])
    right = np.where(np.array(found.direction) == "rising", recent(day, level) > 0, recent(day, level) < 0)
    assert named.sum() > 100
    assert right[named].mean() >= 0.95


@pytest.mark.parametrize(
    ("low", "high", "direction"),
    [(1, 9, "rising"), (-9, -1, "falling"), (-3, 4, "steady"), (-12, 9, "unknown"), (np.nan, np.nan, "unknown")],
)
def test_direction_follows_the_interval(low, high, direction):
    assert direction_of(low, high) == direction


def test_trees_without_counts_are_unknown():
    day = np.array([[0.0, 4.0, 8.0], [0.0, 4.0, np.nan]])
    found = leaf_trends(day, np.array([[4.0, 4.1, 4.2], [np.nan] * 3]), np.full(day.shape, 0.01))
    assert found.direction[1] == "unknown"
    assert np.isnan(found.leaves[1]) and np.isnan(found.change[1])


def test_a_collection_without_a_visit_is_no_error():
    empty = np.zeros((2, 0))
    found = leaf_trends(empty, empty, empty)
    assert found.direction == ["unknown", "unknown"]
    assert np.isnan(found.leaves).all()


def test_health_is_the_weighted_mean_of_its_parts():
    found = health(45, 60, -2.0, 1.0, 20.0)
    assert found is not None
    assert {part.name for part in found.parts} == set(WEIGHTS)
    assert found.score == pytest.approx(0.4 * 75 + 0.3 * 74 + 0.3 * 80, abs=0.1)


def test_health_with_a_part_missing_shares_its_weight():
    found = health(None, None, None, None, 10.0)
    assert found is not None
    assert (found.score, found.parts[0].weight) == (90, 1)
    assert health(float("nan"), None, None, None, None) is None
