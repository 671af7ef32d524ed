"""The change of the last two weeks: its covariance against plain linear algebra, its interval against simulation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from server.analysis.kalman import (
    Variances,
    covariance_with_last,
    local_trend_filter,
    local_trend_smoother,
)
from server.analysis.trend import CHANGE_DAYS, leaf_trends

Floats = NDArray[np.float64]
DIFFUSE = 1e7


def step(days: float, q: Variances) -> tuple[Floats, Floats]:
    """Transition and noise of level and slope over some days (Harvey 1989, ch. 9)."""
    level = q.level_a_day * days + q.slope_a_day * days**3 / 3
    both = q.slope_a_day * days**2 / 2
    return np.array([[1, days], [0, 1]]), np.array([[level, both], [both, q.slope_a_day * days]])


def posterior(day: Floats, seen: list[int], noise: float, q: Variances) -> Floats:
    """Covariance of all states given the counts, by conditioning one large normal distribution."""
    size = 2 * len(day)
    prior = np.zeros((size, size))
    prior[:2, :2] = np.diag([DIFFUSE, q.slope_start])
    for j in range(1, len(day)):
        move, gained = step(day[j] - day[j - 1], q)
        here, before = slice(2 * j, 2 * j + 2), slice(2 * j - 2, 2 * j)
        prior[here, : 2 * j] = move @ prior[before, : 2 * j]
        prior[: 2 * j, here] = prior[here, : 2 * j].T
        prior[here, here] = move @ prior[before, before] @ move.T + gained
    looks = np.zeros((len(seen), size))
    looks[np.arange(len(seen)), [2 * j for j in seen]] = 1
    total = looks @ prior @ looks.T + noise * np.eye(len(seen))
    result: Floats = prior - prior @ looks.T @ np.linalg.solve(total, looks @ prior)
    return result


def test_the_covariance_with_the_last_level_is_that_of_the_joint_distribution() -> None:
    day = np.array([[0.0, 3, 7, 12, 16, 21]])
    log_leaves = np.array([[3.0, 3.1, np.nan, 3.0, 2.9, 2.5]])
    q = Variances(0.002, 2e-5, 1.3, 1e-3)
    track = local_trend_filter(log_leaves, np.full((1, 6), 0.01), day, q)
    found = covariance_with_last(track, day, q, np.array([5]))[..., 0]
    expected = posterior(day[0], [0, 1, 3, 4, 5], 0.01 * 1.3, q)
    np.testing.assert_allclose(found[0, 0], expected[10, ::2], rtol=1e-4, atol=1e-7)
    np.testing.assert_allclose(found[0, 1], expected[11, ::2], rtol=1e-4, atol=1e-7)
    np.testing.assert_allclose(found[1, 0], expected[10, 1::2], rtol=1e-4, atol=1e-7)
    np.testing.assert_allclose(found[1, 1], expected[11, 1::2], rtol=1e-4, atol=1e-7)
    smooth = local_trend_smoother(track, day, q)
    np.testing.assert_allclose(smooth.p_ll[:, 0], np.diag(expected)[::2], rtol=1e-4)


def test_the_stated_interval_holds_the_true_change_nine_times_in_ten() -> None:
    random = np.random.default_rng(1)
    q = Variances(1e-3, 1e-5, 1.0, 1.5e-4)
    trees, visits = 2000, 20
    day = np.cumsum(random.integers(3, 6, (trees, visits)), axis=1).astype(float)
    level = np.full((trees, visits), 4.0)
    for tree in range(trees):
        state = np.array([4.0, random.normal(0, np.sqrt(q.slope_start))])
        for j in range(1, visits):
            move, gained = step(day[tree, j] - day[tree, j - 1], q)
            state = move @ state + np.linalg.cholesky(gained) @ random.normal(size=2)
            level[tree, j] = state[0]
    found = leaf_trends(day, level + random.normal(0, 0.05, level.shape), np.full(level.shape, 0.0025), q)
    start = visits - 1 - np.argmax((day <= day[:, -1:] - CHANGE_DAYS)[:, ::-1], axis=1)
    rows = np.arange(trees)
    true = 100 * np.expm1(7 * (level[:, -1] - level[rows, start]) / (day[:, -1] - day[rows, start]))
    inside = np.mean((found.change_low <= true) & (true <= found.change_high))
    assert 0.87 <= inside <= 0.93


def test_a_tree_that_grew_all_spring_and_now_sheds_is_falling() -> None:
    day = np.arange(0, 80, 4.0)[None, :]
    leaves = np.concatenate([np.linspace(20, 80, 16), [70, 60, 52, 44]])[None, :]
    found = leaf_trends(day, np.log(leaves), np.full(day.shape, 0.002))
    assert found.direction == ["falling"]
    assert found.change_high[0] < 0
