"""The leaf-drop test's run lengths, held against the published Poisson CUSUM."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from server.analysis.common import Common
from server.analysis.counts import Exposure, Visits
from server.analysis.dropfilter import Evidence, filter_odds
from server.analysis.leafdrop import ALARM_PROBABILITY
from server.analysis.usual import Usual
from tests.analysis.cusum import average_run_length, reference_value


@pytest.mark.parametrize(
    ("mean", "start", "published"),
    [(1.88, 0, 37.20), (1.88, 3, 29.19), (3.2, 0, 5.49), (3.2, 3, 3.33)],
)
def test_the_reference_gives_the_published_run_lengths(mean, start, published):
    # Lucas 1985, h 6, k 2, plain and with the fast start of h/2.
    assert average_run_length(Fraction(2), Fraction(6), mean, Fraction(start)) == pytest.approx(published, abs=0.006)


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
    odds = filter_odds(Evidence(seen, exposed, common, none, np.ones(day.shape), np.ones(day.shape)), usual)
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
