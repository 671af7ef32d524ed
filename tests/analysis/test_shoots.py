"""Marked sample shoots: totals, what sampling and drift add to their error, and coverage on simulated trees."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from server.analysis.leaves import FULL_COUNT_CV, SHOOT_COUNT_CV, total_leaf_arrays
from server.analysis.shootchains import LINK_DAYS_MAX
from server.analysis.shoots import LeafCounts, MarkedShoots, count_leaves
from server.analysis.trend import CHANGE_DAYS, Trends, leaf_trends
from tests.analysis.ribbons import Grove, grove

Floats = NDArray[np.float64]
GONE = np.nan


def count(marked: list[list[float]], days: float = 4.0, **other: Any) -> LeafCounts:
    """One tree's visits, so many days apart; `leaves`, `shoots`, `per_shoot` as lists, NaN unknown."""
    visits = len(marked)
    day = np.arange(visits)[None, :] * days
    leaves, shoots, per_shoot = (
        np.array([other.get(name, [np.nan] * visits)], dtype=float) for name in ("leaves", "shoots", "per_shoot")
    )
    return count_leaves(day, (leaves, shoots, per_shoot), MarkedShoots(np.array([0]), np.array([marked], dtype=float)))


def shoots_once(visits: int, shoots: float) -> list[float]:
    return [shoots, *[np.nan] * (visits - 1)]


def test_shoots_counted_once_turn_the_mean_of_the_marked_into_all_leaves_at_every_visit() -> None:
    found = count([[5, 6, 4, 7], [6, 6, 5, 7]], shoots=shoots_once(2, 20))
    np.testing.assert_allclose(found.total, [[20 * 5.5, 20 * 6.0]])


def test_the_error_of_sampling_is_that_of_all_samples_there_are(monkeypatch: pytest.MonkeyPatch) -> None:
    # Cochran 1977, ch. 2: over all samples of n from N the mean has variance (1 − n/N) S²/n, and s² is S² in the mean.
    monkeypatch.setattr("server.analysis.shoots.SPREAD_PRIOR_DF", 0.0)
    tree = np.array([3, 9, 4, 6, 8, 5, 7, 6, 2, 5, 6, 11], dtype=float)
    samples = np.array(list(combinations(tree, 4)))
    rows, nothing = np.arange(len(samples)), np.full((len(samples), 1), np.nan)
    shoots = np.full_like(nothing, 12)
    counts = count_leaves(np.ones_like(nothing), (nothing, shoots, nothing), MarkedShoots(rows, samples[:, None]))
    stated = (counts.sampling.bias_var[:, 0] - SHOOT_COUNT_CV**2) * samples.mean(axis=1) ** 2
    assert np.mean(stated) == pytest.approx(np.var(samples.mean(axis=1)))


def test_with_every_shoot_marked_only_the_counting_errs() -> None:
    found = count([[5, 6, 4]], shoots=[3])
    assert found.sampling.bias_var[0, 0] == pytest.approx(SHOOT_COUNT_CV**2)
    assert found.log_var[0, 0] == pytest.approx(FULL_COUNT_CV**2 + 0.25 / 15**2)


def test_a_shoot_that_is_lost_makes_no_step_in_the_series() -> None:
    # The smallest shoot breaks off; the others stay as they were: the tree's leaves a shoot did not rise.
    found = count([[2, 9, 9], [GONE, 9, 9], [GONE, 10, 10]], shoots=shoots_once(3, 12))
    np.testing.assert_allclose(found.total, 12 * np.array([[20 / 3, 20 / 3, 200 / 27]]))


def test_a_ribbon_tied_to_another_shoot_after_a_round_without_it_makes_no_step() -> None:
    found = count([[4, 8], [GONE, 8], [16, 8], [18, 9]], shoots=shoots_once(4, 10))
    np.testing.assert_allclose(found.total, 10 * np.array([[6, 6, 6, 6.75]]))


def test_a_full_count_beside_the_marked_shoots_sets_what_they_stand_for() -> None:
    found = count([[5, 6, 4, 5], [4, 6, 3, 5]], leaves=[96, np.nan])
    np.testing.assert_allclose(found.total, [[96, 96 * 18 / 20]])
    assert found.sampling.bias_var[0, 0] == pytest.approx(FULL_COUNT_CV**2)


def test_without_a_count_of_all_shoots_or_leaves_no_total_is_made_up() -> None:
    found = count([[5, 6], [4, 6]])
    assert np.isnan(found.total).all()
    assert not found.sampling.gained_var.any()


def test_counts_too_far_apart_are_another_series() -> None:
    near, far = (count([[5, 6, 7]] * 2, days=days, shoots=[20, 20]) for days in (LINK_DAYS_MAX, LINK_DAYS_MAX + 1))
    assert far.sampling.gained_var[0, 1] == pytest.approx(2 * far.sampling.bias_var[0, 0])
    assert near.sampling.gained_var[0, 1] < far.sampling.gained_var[0, 1]


def test_a_full_count_after_the_last_marked_one_says_little_about_the_change_and_more_about_the_total() -> None:
    none = [np.nan] * 3
    paired = count([[5, 6, 7, 8]] * 4, shoots=shoots_once(4, 40))
    mixed = count([*[[5, 6, 7, 8]] * 3, [*none, np.nan]], shoots=shoots_once(4, 40), leaves=[*none, 260])
    widths = []
    for counts in (paired, mixed):
        found = leaf_trends(np.arange(4)[None, :] * 4.0, counts.log_leaves, counts.log_var, sampling=counts.sampling)
        widths.append((found.change_high - found.change_low, found.leaves_high / found.leaves_low))
    assert widths[1][0] > widths[0][0]
    assert widths[1][1] < widths[0][1]


def test_trees_without_marked_shoots_are_counted_as_ever() -> None:
    leaves, shoots, per_shoot = np.array([[62, np.nan]]), np.array([[np.nan, 10]]), np.array([[np.nan, 6.5]])
    found = count_leaves(np.array([[0.0, 4]]), (leaves, shoots, per_shoot))
    total, log_sd = total_leaf_arrays(leaves, shoots, per_shoot)
    np.testing.assert_array_equal(found.total, total)
    np.testing.assert_array_equal(found.log_var, log_sd**2)


def true_change(trees: Grove) -> Floats:
    """Percent a week over the CHANGE_DAYS before the last visit."""
    day, rows = trees.day, np.arange(len(trees.day))
    start = day.shape[1] - 1 - np.argmax((day <= day[:, -1:] - CHANGE_DAYS)[:, ::-1], axis=1)
    rate = np.log(trees.leaves[:, -1] / trees.leaves[rows, start]) / (day[:, -1] - day[rows, start])
    return 100 * np.expm1(7 * rate)


def covered(found: Trends, trees: Grove) -> tuple[float, float]:
    """Share of trees whose total and whose change lie in the stated interval."""
    last, change = trees.leaves[:, -1], true_change(trees)
    total = (found.leaves_low <= last) & (last <= found.leaves_high)
    return float(total.mean()), float(((found.change_low <= change) & (change <= found.change_high)).mean())


def told(found: Trends) -> float:
    return float(np.mean([direction in ("rising", "falling") for direction in found.direction]))


def test_stated_intervals_cover_and_the_change_is_known_better_than_from_new_shoots_each_time() -> None:
    """Shoots that grow by chance and at a steady pace, three and five of them marked: 2,000 trees in all."""
    rng = np.random.default_rng(8)
    shares, widths = [], []
    for by_chance, marked in ((True, 3), (False, 3), (True, 5), (False, 5)):
        trees = grove(rng, 500, 20, by_chance)
        nothing = np.full(trees.day.shape, np.nan)
        shoots, counts = trees.counted(rng, marked)
        same = count_leaves(trees.day, (nothing, shoots, nothing), counts)
        found = leaf_trends(trees.day, same.log_leaves, same.log_var, sampling=same.sampling)
        new = count_leaves(trees.day, (nothing, *trees.sampled(rng, marked)))
        other = leaf_trends(trees.day, new.log_leaves, new.log_var)
        shares.append(covered(found, trees))
        widths.append([np.median(each.change_high - each.change_low) for each in (found, other)])
        assert told(found) > told(other)
    total, change = np.mean(shares, axis=0)
    assert 0.87 <= total <= 0.93
    assert 0.87 <= change <= 0.93
    assert all(same < 0.9 * new for same, new in widths)


def test_a_tree_that_sheds_is_seen_to_fall_sooner_on_its_marked_shoots() -> None:
    """Every fifth tree loses an eighth of its leaves before each of the last three visits."""
    rng = np.random.default_rng(9)
    trees = grove(rng, 300, 18, by_chance=False)
    now = np.nan_to_num(trees.on_shoot[:, -4]).astype(int)
    for j in (-3, -2, -1):
        now = now - rng.binomial(now, 0.125)
        trees.on_shoot[::5, j] = np.where(np.isnan(trees.on_shoot[::5, j]), np.nan, now[::5])
    nothing = np.full(trees.day.shape, np.nan)
    shoots, counts = trees.counted(rng, 4)
    same = count_leaves(trees.day, (nothing, shoots, nothing), counts)
    new = count_leaves(trees.day, (nothing, *trees.sampled(rng, 4)))
    falling = [
        np.mean([each == "falling" for each in found.direction[::5]])
        for found in (
            leaf_trends(trees.day, same.log_leaves, same.log_var, sampling=same.sampling),
            leaf_trends(trees.day, new.log_leaves, new.log_var),
        )
    ]
    assert falling[0] > 0.9
    assert falling[0] > falling[1] + 0.15
