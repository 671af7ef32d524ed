"""Pooling against published worked examples, the plain t interval, and simulated truths."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from server.analysis.moderated import moderate
from server.analysis.pooling import pool, restricted_log_likelihood

# Eight schools, Rubin 1981, table 1: estimated effects and standard errors (from memory).
SCHOOLS = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
SCHOOLS_SE = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])
# BCG vaccine against tuberculosis, 13 trials, Colditz et al. 1994 (from memory): vaccinated with and without the
# disease, others with and without it.
BCG = np.array(
    [
        *[(4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761)],
        *[(180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232)],
        *[(17, 1699, 65, 1600), (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825)],
    ],
    dtype=float,
)


def test_eight_schools() -> None:
    found = pool(SCHOOLS, SCHOOLS_SE**2, np.inf)
    # Complete pooling (Gelman et al. 2013, section 5.5, from memory): 7.7 with standard error 4.1.
    precision = SCHOOLS_SE**-2.0
    assert (precision * SCHOOLS).sum() / precision.sum() == pytest.approx(7.7, abs=0.05)
    assert precision.sum() ** -0.5 == pytest.approx(4.1, abs=0.05)
    # Gelman et al. 2013, table 5.3 (from memory): medians 10, 8, 7, 8, 5, 6, 10, 8; common mean about 8.
    assert found.mean == pytest.approx([11, 8, 6, 8, 5, 6, 11, 8], abs=0.6)
    assert found.common_mean == pytest.approx(8.0, abs=0.2)
    assert found.positive[0] > 0.9


def test_eight_schools_by_another_way_of_computing_it() -> None:
    """The same model by plain simulation on a fine even grid of the spread."""
    rng = np.random.default_rng(1)
    tau = np.linspace(0.0, 60.0, 6001)
    log_density = restricted_log_likelihood(tau, SCHOOLS, SCHOOLS_SE**2)
    share = np.exp(log_density - log_density.max())
    drawn = rng.choice(tau, 100_000, p=share / share.sum())[:, None]
    precision = 1.0 / (SCHOOLS_SE**2 + drawn**2)
    common = (precision * SCHOOLS).sum(1) / precision.sum(1) + precision.sum(1) ** -0.5 * rng.standard_normal(100_000)
    own = drawn**2 * precision
    value = own * SCHOOLS + (1 - own) * common[:, None] + np.sqrt(own) * SCHOOLS_SE * rng.standard_normal((100_000, 8))
    found = pool(SCHOOLS, SCHOOLS_SE**2, np.inf)
    assert found.mean == pytest.approx(value.mean(0), abs=0.25)
    assert found.sd == pytest.approx(value.std(0), abs=0.25)
    assert found.positive == pytest.approx((value > 0).mean(0), abs=0.01)
    assert found.common_mean == pytest.approx(common.mean(), abs=0.1)
    assert found.common_sd == pytest.approx(common.std(), abs=0.1)


def test_the_common_mean_of_groups_known_equally_well_has_the_t_interval_of_a_sample() -> None:
    """With equal variances the interval of Hartung 1999 is that of a plain sample of the groups: against scipy's."""
    groups = np.array([3.0, 9.0, 4.5, 12.0, 7.0])
    found = pool(groups, np.full(5, 1.5), np.inf)
    low, high = stats.t.interval(0.9, 4, groups.mean(), stats.sem(groups))
    assert (found.common_low, found.common_high) == pytest.approx((low, high))
    above = 1.0 - stats.ttest_1samp(groups, 0.0, alternative="greater").pvalue
    assert found.common_positive == pytest.approx(above)


def test_groups_that_agree_by_luck_give_no_certainty() -> None:
    found = pool(np.array([3.0, 3.0]), np.array([4.0, 4.0]), np.inf)
    assert found.common_high - found.common_low > 1.0


def test_the_spread_between_vaccine_trials_is_the_published_reml_figure() -> None:
    """Viechtbauer 2010, J. Stat. Softw. 36(3) (from memory): REML tau² 0.3132, log risk ratio −0.7145, SE 0.1798."""
    ill, well, other_ill, other_well = BCG.T
    effect = np.log(ill / (ill + well)) - np.log(other_ill / (other_ill + other_well))
    variance = 1 / ill - 1 / (ill + well) + 1 / other_ill - 1 / (other_ill + other_well)
    tau = np.sqrt(np.arange(0.2, 0.5, 1e-5))
    best = tau[restricted_log_likelihood(tau, effect, variance).argmax()]
    assert best**2 == pytest.approx(0.3132, abs=5e-5)
    precision = 1.0 / (variance + best**2)
    assert (precision * effect).sum() / precision.sum() == pytest.approx(-0.7145, abs=5e-5)
    assert precision.sum() ** -0.5 == pytest.approx(0.1798, abs=5e-5)
    # With the spread's uncertainty on top, the mean lies near and its interval is wider.
    found = pool(effect, variance, np.inf)
    assert found.common_mean == pytest.approx(-0.7145, abs=0.01)
    assert found.common_sd > 0.1798


def test_one_group_alone_has_the_plain_t_interval() -> None:
    for df in (2.0, 4.0, 10.0, 50.0):
        found = pool(np.array([3.0]), np.array([4.0]), df)
        reach = 2.0 * stats.t.ppf(0.95, df)
        assert found.high[0] - 3.0 == pytest.approx(reach, rel=0.02)
        assert found.low[0] - 3.0 == pytest.approx(-reach, rel=0.02)
        assert found.positive[0] == pytest.approx(stats.t.cdf(1.5, df), abs=0.003)


def test_groups_that_agree_lend_each_other_strength_and_those_that_differ_keep_apart() -> None:
    alike = pool(np.array([4.0, 4.1, 3.9, 4.0]), np.full(4, 1.0), np.inf, 4.0)
    assert (alike.high - alike.low < 0.9 * 2 * stats.norm.ppf(0.95)).all()
    apart = pool(np.array([-40.0, 0.0, 40.0, 80.0]), np.full(4, 1.0), np.inf, 4.0)
    assert apart.mean == pytest.approx([-40.0, 0.0, 40.0, 80.0], abs=0.5)


def test_variances_known_to_be_equal_become_one_and_unequal_ones_stay_apart() -> None:
    rng = np.random.default_rng(2)
    df = np.full(400, 4.0)
    chance = rng.chisquare(4.0, 400) / 4.0
    one, one_df = moderate(chance, df)
    assert one.std() < 0.25 * chance.std() and one_df.min() > 30
    # Smyth 2004: with a prior of d0 degrees of freedom and variance s0², both are found again.
    true = 2.0 * 6.0 / rng.chisquare(6.0, 400)
    shrunk, shrunk_df = moderate(true * chance, df)
    assert shrunk_df[0] - 4.0 == pytest.approx(6.0, rel=0.3)
    assert np.corrcoef(np.log(shrunk), np.log(true))[0, 1] > 0.6


def test_a_group_without_degrees_of_freedom_takes_the_others_variance() -> None:
    variance, df = moderate(np.array([np.nan, 2.0, 4.0]), np.array([0.0, 3.0, 1.0]))
    assert variance == pytest.approx(2.5)
    assert df == pytest.approx(4.0)
    nothing, none = moderate(np.array([np.nan]), np.array([0.0]))
    assert np.isnan(nothing).all() and none[0] == 0


@pytest.mark.parametrize(("estimate", "variance", "df"), [([], [], 3.0), ([1.0], [0.0], 3.0), ([1.0], [1.0], 0.0)])
def test_what_cannot_be_pooled_is_refused(estimate: list[float], variance: list[float], df: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        pool(np.array(estimate), np.array(variance), df)
