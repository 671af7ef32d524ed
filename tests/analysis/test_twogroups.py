"""Two groups against published worked examples and a second implementation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from server.analysis.twogroups import by_tree, gap, without_years

# Student (1908), Biometrika 6:1-25: hours of sleep that two drugs added in ten patients, as printed there in his table.
DRUG_1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0]
DRUG_2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4]


def test_the_same_subjects_are_held_against_themselves() -> None:
    found = gap(dict(enumerate(DRUG_2)), dict(enumerate(DRUG_1)))
    # Student's mean difference is 1.58, and t = 4.06 with nine degrees of freedom (values from memory, recomputed).
    assert found is not None and found.paired and found.told == "more"
    assert (found.difference, found.df) == (pytest.approx(1.58), 9)
    assert found.low is not None and found.high is not None
    error = (found.high - found.low) / 2 / stats.t.ppf(0.95, 9)
    assert found.difference / error == pytest.approx(4.0621, abs=1e-4)


def test_different_subjects_are_compared_by_welch() -> None:
    found = gap(dict(enumerate(DRUG_1)), dict(enumerate(DRUG_2, start=100)))
    # As a two-sample problem: t = -1.8608 with 17.776 degrees of freedom (the manual of R's t.test, from memory).
    assert found is not None and not found.paired
    assert found.df == pytest.approx(17.776, abs=1e-3)
    assert found.low is not None and found.high is not None
    error = (found.high - found.low) / 2 / stats.t.ppf(0.95, found.df)
    assert found.difference / error == pytest.approx(-1.8608, abs=1e-4)
    # SciPy's own interval as a second opinion.
    told = stats.ttest_ind(DRUG_1, DRUG_2, equal_var=False).confidence_interval(0.90)
    assert (found.low, found.high) == (pytest.approx(told.low), pytest.approx(told.high))


def test_the_band_holds_the_true_difference_nine_times_in_ten() -> None:
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(2000):
        found = gap(dict(enumerate(rng.normal(10, 4, 5))), dict(enumerate(rng.normal(7, 1, 9), start=50)))
        assert found is not None and found.low is not None and found.high is not None
        held += found.low <= 3 <= found.high
    assert 0.88 <= held / 2000 <= 0.92


def test_what_can_not_be_judged_says_so() -> None:
    assert gap({}, {1: 2.0}) is None
    for first, second in (({1: 5.0}, {2: 3.0, 3: 4.0}), ({1: 5.0, 2: 5.0}, {3: 4.0, 4: 4.0})):
        found = gap(first, second)
        assert found is not None and (found.low, found.told) == (None, "unknown")


def test_a_tree_of_many_seasons_counts_once_and_a_years_weather_is_taken_off() -> None:
    tree, year = np.array([1, 1, 2, 2]), np.array([2024, 2025, 2024, 2025])
    value = np.array([10.0, 20.0, 12.0, np.nan])
    assert by_tree(tree, value) == {1: 15.0, 2: 12.0}
    level = without_years(value, year)
    assert np.nanmean(level[year == 2024]) == pytest.approx(np.nanmean(level[year == 2025]))
    assert level[2] - level[0] == pytest.approx(2.0)
