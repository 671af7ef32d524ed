"""The leaf-drop test's run lengths against published cumulative sums: of counts, and for totals of normal values."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from server.analysis.common import Common
from server.analysis.counts import Exposure, Visits
from server.analysis.decline import Totals
from server.analysis.dropfilter import Evidence, filter_odds
from server.analysis.leafdrop import ALARM_PROBABILITY
from server.analysis.usual import Usual
from tests.analysis.cusum import (
    average_run_length,
    normal_run_length,
    reference_value,
    two_sided_run_length,
    upper_sums,
)


@pytest.mark.parametrize(
    ("mean", "start", "published"),
    [(1.88, 0, 37.20), (1.88, 3, 29.19), (3.2, 0, 5.49), (3.2, 3, 3.33)],
)
def test_the_reference_gives_the_published_run_lengths(mean, start, published):
    # Lucas 1985, h 6, k 2, plain and with the fast start of h/2.
    assert average_run_length(Fraction(2), Fraction(6), mean, Fraction(start)) == pytest.approx(published, abs=0.006)


# NIST/SEMATECH e-Handbook, section 6.3.2.3, from memory, recomputed: target 325, k 0.3175, h 4.1959.
NIST = """
324.925 324.675 324.725 324.350 325.350 325.225 324.125 324.525 325.225 324.600 324.625 325.150 328.325 327.250 327.825
328.500 326.675 327.775 326.875 328.350
"""


def test_upper_sums_are_those_of_the_handbook():
    sums = upper_sums(np.array(NIST.split(), dtype=float), 325.0, 0.3175)
    assert sums[12:] == pytest.approx([3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035])
    assert int(np.argmax(sums > 4.1959)) + 1 == 14


# k 0.5, two-sided, from memory, recomputed.
@pytest.mark.parametrize(
    ("h", "published"), [(4.0, (168, 26.6, 8.38, 3.34, 2.19)), (5.0, (465, 38.0, 10.4, 4.01, 2.57))]
)
def test_normal_run_lengths_are_those_published(h, published):
    found = [two_sided_run_length(0.5, h, shift) for shift in (0.0, 0.5, 1.0, 2.0, 3.0)]
    assert found == pytest.approx(published, rel=0.004)


def first_alarms(counts, usual_count, usual, threshold):
    """Visits until the odds pass the threshold, counted from one; the number of visits where they never do."""
    trees, visits = counts.shape
    day = np.tile(np.arange(visits) * 4.0, (trees, 1))
    none = np.full(day.shape, np.nan)
    exposed = Exposure(np.full(day.shape, 4.0), np.full(day.shape, usual_count / usual.mean), none + 1, none < 0)
    exposed = Exposure(exposed.days, exposed.leaf_days, np.full(day.shape, 100.0), np.ones(day.shape, dtype=bool))
    seen = Visits(day, none, none, counts, np.zeros(day.shape, dtype=np.int64), np.full(day.shape, np.inf), none)
    seen = Visits(**{**vars(seen), "moved_weight": np.zeros(day.shape)})
    common = Common(np.ones(day.shape), np.zeros(day.shape), np.zeros(day.shape))
    even = np.ones(day.shape)
    totals = Totals(none, even, even, 0 * even, 0 * even)
    odds = filter_odds(Evidence(seen, exposed, common, totals), usual)
    passed = odds.history >= threshold
    return np.where(passed.any(axis=1), np.argmax(passed, axis=1) + 1, visits), passed.any(axis=1)


def test_the_alert_is_nearly_as_quick_as_the_published_cusum_at_the_same_rate_of_false_alarms():
    """With the usual rate known, a threefold loss takes at most a third longer than by the CUSUM made for just that.

    The CUSUM is told how large the loss will be; the alert is not.
    """
    rng = np.random.default_rng(5)
    usual_count = 1.2
    known = Usual(mean=0.003, shape=4000.0, extra_spread=0.001)
    sound = rng.poisson(usual_count, (400, 80)).astype(float)
    waited, alarmed = first_alarms(sound, usual_count, known, ALARM_PROBABILITY)
    in_control = waited.sum() / alarmed.sum()
    losing = rng.poisson(3 * usual_count, (400, 30)).astype(float)
    delays, found = first_alarms(losing, usual_count, known, ALARM_PROBABILITY)
    k = Fraction(reference_value(usual_count, 3 * usual_count)).limit_denominator(8)
    lattice = [Fraction(n, 8) for n in range(16, 80)]
    lengths = [average_run_length(k, h, usual_count) for h in lattice]
    same = int(np.argmin(np.abs(np.log(np.array(lengths) / in_control))))
    best = average_run_length(k, lattice[same], 3 * usual_count)
    print(f"in control {in_control:.0f} visits; threefold loss: alert {delays.mean():.2f}, CUSUM {best:.2f} visits")
    assert found.mean() >= 0.995
    assert in_control > 200
    assert delays.mean() <= best * 1.33


def first_alarms_by_totals(surprise, sd, usual):
    """Visits until the odds pass the alarm's threshold where nobody counted the fallen."""
    day = np.tile(np.arange(surprise.shape[1]) * 4.0, (len(surprise), 1))
    none, even = np.full(day.shape, np.nan), np.ones(day.shape)
    exposed = Exposure(4.0 * even, none, 100.0 * even, none > 0)
    place, moved_ago = np.zeros(day.shape, dtype=np.int64), np.full(day.shape, np.inf)
    seen = Visits(day, none, none, none, place, moved_ago, 0 * even)
    common = Common(even, 0 * even, 0 * even)
    # A trend that follows every count in full: the surprises are independent of each other.
    totals = Totals(surprise, sd * even, 4.0 * even, even, 0 * even)
    odds = filter_odds(Evidence(seen, exposed, common, totals), usual)
    passed = odds.history >= ALARM_PROBABILITY
    return np.where(passed.any(axis=1), np.argmax(passed, axis=1) + 1, day.shape[1]), passed.any(axis=1)


def test_by_totals_alone_the_alert_is_nearly_as_quick_as_the_normal_sum_at_the_same_rate_of_false_alarms():
    """A drop of 1.5 % a day more than usual, each total known to 5 %; the sum is told its size, the alert is not."""
    rng = np.random.default_rng(6)
    usual, sd, extra = Usual(mean=0.003, shape=4000.0, extra_spread=0.001), 0.05, 0.015
    # What the visits' own chance adds to the error of the totals.
    whole_sd = np.hypot(sd, np.sqrt(4 * usual.mean / 100))
    sound = whole_sd * rng.standard_normal((300, 80))
    waited, alarmed = first_alarms_by_totals(sound, sd, usual)
    in_control = waited.sum() / max(alarmed.sum(), 1)
    delays, found = first_alarms_by_totals(whole_sd * rng.standard_normal((300, 40)) - 4 * extra, sd, usual)
    shift = 4 * extra / whole_sd
    limits = np.linspace(1.0, 9.0, 161)
    lengths = np.array([normal_run_length(shift / 2, h, 0.0, 48) for h in limits])
    best = normal_run_length(shift / 2, limits[np.argmin(np.abs(np.log(lengths / in_control)))], shift)
    print(f"in control {in_control:.0f} visits; 1.5 % a day: alert {delays.mean():.2f}, sum {best:.2f} visits")
    assert found.mean() >= 0.99
    assert in_control > 200
    assert delays.mean() <= best * 1.4
