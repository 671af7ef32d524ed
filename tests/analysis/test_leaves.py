"""Total leaves and their counting error."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.leaves import SHOOT_COUNT_CV, sampling_cv, total_leaf_arrays, total_leaves


def test_a_full_count_wins_over_a_sample():
    found = total_leaves(leaves=62, shoots=10, leaves_per_shoot=9)
    assert found is not None
    assert (found.leaves, found.how) == (62, "counted")
    assert found.low < 62 < found.high


def test_shoots_times_leaves_a_shoot_and_a_wider_interval():
    sampled, counted = total_leaves(shoots=20, leaves_per_shoot=6), total_leaves(leaves=120)
    assert sampled is not None and counted is not None
    assert sampled.leaves == 120
    assert sampled.high - sampled.low > 3 * (counted.high - counted.low)


def test_nothing_counted_is_no_estimate():
    assert total_leaves() is None
    assert total_leaves(shoots=5) is None


def test_a_bare_tree_has_no_leaves_and_a_finite_error():
    found = total_leaves(leaves=0)
    assert found is not None
    assert (found.leaves, found.low) == (0, 0)
    assert np.isfinite(found.log_sd)


def test_a_negative_count_is_refused():
    with pytest.raises(ValueError, match="count them again"):
        total_leaves(leaves=-1)


def test_looking_at_every_shoot_leaves_only_the_shoots_own_error():
    # Cochran 1977: the finite population correction vanishes when all units are in the sample.
    assert sampling_cv(np.array(5.0), np.array(8.0), 5) == pytest.approx(SHOOT_COUNT_CV)


def test_the_interval_of_a_sample_covers_the_truth():
    """Five of twenty shoots looked at, leaves negative binomial: 90 % intervals cover 87 to 93 %."""
    rng = np.random.default_rng(3)
    trees, shoots = 4000, 20
    mean, size = 9.0, 1 / 0.35**2
    leaves = rng.negative_binomial(size, size / (size + mean), (trees, shoots))
    per_shoot = leaves[:, :5].mean(axis=1)
    seen = shoots * np.exp(0.03 * rng.standard_normal(trees))
    nothing = np.full(trees, np.nan)
    total, log_sd = total_leaf_arrays(nothing, seen, per_shoot)
    inside = np.abs(np.log(total) - np.log(leaves.sum(axis=1))) <= 1.645 * log_sd
    assert 0.87 <= inside.mean() <= 0.93
