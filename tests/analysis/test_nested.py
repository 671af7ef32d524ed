"""Nested curves: held against the joint normal written out in full, and against variances that are known."""

from __future__ import annotations

import numpy as np

from server.analysis.nested import Known, Levels, Spread, expected_of, fit_spread, told_by, without


def _levels() -> Levels:
    """Nine seasons of five trees, three varieties, two species."""
    return Levels(
        (
            np.array([0, 0, 1, 2, 2, 2, 3, 4, 4]),
            np.array([0, 1, 1, 2, 2]),
            np.array([0, 0, 1]),
            np.array([0, 0]),
        )
    )


def _ancestors(levels: Levels) -> list[np.ndarray]:
    """For each level from season up, the index of every season's member there."""
    chain = [np.arange(len(levels.parent[0]))]
    for parent in levels.parent:
        chain.append(parent[chain[-1]])
    return chain


def _covariance(levels: Levels, spread: Spread, known: Known) -> np.ndarray:
    """Prior covariance of all seasons' coefficients, (seasons · p, seasons · p), written out."""
    chain, p = _ancestors(levels), len(known.mean)
    total = np.kron(np.ones((len(chain[0]),) * 2), known.cov)
    for members, cov in zip(chain, spread.level, strict=False):
        full = np.zeros((p, p))
        full[: len(cov), : len(cov)] = cov
        total += np.kron((members[:, None] == members[None, :]).astype(float), full)
    return total


def test_what_the_others_expect_of_a_season_is_the_conditional_of_the_joint_normal() -> None:
    rng, levels, p = np.random.default_rng(3), _levels(), 3
    spread = Spread((np.diag([0.2, 0.1]), np.array([[0.1, 0.03], [0.03, 0.05]]), np.diag([0.3]), np.eye(3) * 0.4), 1.7)
    known = Known(np.array([1.0, -0.5, 0.2]), np.eye(p) * 0.8)
    season = np.sort(rng.integers(0, 9, 40))
    design, y, r = rng.normal(size=(40, p)), rng.normal(size=40), rng.uniform(0.5, 2.0, 40)
    found = expected_of(told_by(season, 9, design, y, r), levels, spread, known)

    joint = _covariance(levels, spread, known)
    for s in range(9):
        other = season != s
        x = np.zeros((other.sum(), 9 * p))
        for row, (at, values) in enumerate(zip(season[other], design[other], strict=True)):
            x[row, at * p : (at + 1) * p] = values
        seen = x @ joint @ x.T + np.diag(1.7 * r[other])
        mine = slice(s * p, (s + 1) * p)
        gain = joint[mine] @ x.T @ np.linalg.inv(seen)
        mean = known.mean + gain @ (y[other] - x @ np.tile(known.mean, 9))
        cov = joint[mine, mine] - gain @ x @ joint[:, mine]
        np.testing.assert_allclose(found.mean[s], mean, atol=1e-8)
        np.testing.assert_allclose(found.cov[s], cov, atol=1e-8)


def test_a_season_without_visits_is_expected_like_its_own_other_years() -> None:
    levels = Levels((np.array([0, 0, 1]), np.array([0, 1]), np.array([0, 0]), np.array([0])))
    spread = Spread((np.eye(1) * 0.01, np.eye(1), np.eye(1) * 0.01, np.eye(1) * 0.01))
    told = told_by(np.zeros(50, dtype=np.int64), 3, np.ones((50, 1)), np.full(50, 3.0), np.ones(50))
    found = expected_of(told, levels, spread, Known(np.zeros(1), np.eye(1)))
    assert found.mean[1, 0] > 2.5
    assert found.mean[2, 0] < 1.8
    assert found.cov[1, 0, 0] < found.cov[2, 0, 0]
    silenced = expected_of(without(told, np.array([True, False, False])), levels, spread, Known(np.zeros(1), np.eye(1)))
    np.testing.assert_allclose(silenced.mean, 0.0)


def test_em_finds_variances_that_were_put_in() -> None:
    rng = np.random.default_rng(11)
    trees, years, visits = 150, 3, 8
    levels = Levels(
        (
            np.repeat(np.arange(trees), years),
            np.arange(trees) % 30,
            np.zeros(30, dtype=np.int64),
            np.zeros(1, dtype=np.int64),
        )
    )
    tree, variety = rng.normal(0, 0.3, trees), rng.normal(0, 0.5, 30)
    season_effect = (
        rng.normal(0, 0.2, trees * years) + tree[levels.parent[0]] + variety[levels.parent[1]][levels.parent[0]]
    )
    season = np.repeat(np.arange(trees * years), visits)
    y = 1.0 + season_effect[season] + rng.normal(0, 0.4, len(season))
    told = told_by(season, trees * years, np.ones((len(y), 1)), y, np.ones(len(y)))
    start = Spread(tuple(np.eye(1) * 0.1 for _ in range(4)), 1.0)
    found = fit_spread(told, levels, start, Known(np.zeros(1), np.eye(1)))
    assert abs(np.sqrt(found.error) - 0.4) < 0.02
    for cov, sd, within in zip(found.level, (0.2, 0.3, 0.5), (0.03, 0.05, 0.12), strict=False):
        assert abs(np.sqrt(cov[0, 0]) - sd) < within
