"""The trend's filter and smoother, against published figures and plain matrix algebra."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.kalman import Variances, local_trend_filter, local_trend_smoother
from server.analysis.pooled_variances import fit_variances

# Annual flow of the Nile at Aswan 1871-1970, 10⁸ m³ (Cobb 1978, Biometrika 65:243-251), as in statsmodels 0.15.
NILE = """
1120 1160 963 1210 1160 1160 813 1230 1370 1140 995 935 1110 994 1020 960 1180 799 958 1140 1100 1210 1150 1250 1260
1220 1030 1100 774 840 874 694 940 833 701 916 692 1020 1050 969 831 726 456 824 702 1120 1100 832 764 821 768 845
864 862 698 845 744 796 1040 759 781 865 845 944 984 897 822 1010 771 676 649 846 812 742 801 1040 860 874 848 890
744 749 838 1050 918 986 797 923 975 815 1020 906 901 1170 912 746 919 718 714 740
"""


def nile():
    flow = np.array(NILE.split(), dtype=float)[None, :]
    return flow, np.ones_like(flow), np.arange(100.0)[None, :]


# Durbin & Koopman 2012, Time Series Analysis by State Space Methods, ch. 2: the local level model's variances.
LOCAL_LEVEL = Variances(level_a_day=1469.1, slope_a_day=0.0, error_scale=15099.0, slope_start=0.0)


def test_the_nile_has_its_published_likelihood_and_last_level():
    # Exact-diffuse log-likelihood −633.4646, last filtered level 798.370 with variance 4032.16.
    found = local_trend_filter(*nile(), LOCAL_LEVEL)
    assert found.log_likelihood[0] == pytest.approx(-633.4646, abs=5e-4)
    assert found.level[-1, 0] == pytest.approx(798.370, abs=5e-4)
    assert found.p_ll[-1, 0] == pytest.approx(4032.16, abs=5e-3)


def test_the_smoothed_nile_falls_fastest_where_its_published_break_is():
    """Least squares put one break after 1898, with means of 1097.75 and 849.97 (recomputed here)."""
    flow, noise, year = nile()
    split = [np.var(flow[0, :k]) * k + np.var(flow[0, k:]) * (100 - k) for k in range(1, 100)]
    before = 1 + int(np.argmin(split))
    assert 1870 + before == 1898
    assert (flow[0, :before].mean(), flow[0, before:].mean()) == pytest.approx((1097.75, 849.97), abs=0.005)
    level = local_trend_smoother(local_trend_filter(flow, noise, year, LOCAL_LEVEL), year, LOCAL_LEVEL).level[:, 0]
    assert int(np.argmin(np.diff(level))) + 1 == before


def irregular(seed=1, visits=12):
    rng = np.random.default_rng(seed)
    day = np.cumsum(rng.integers(2, 9, visits)).astype(float)
    y = 4 + np.cumsum(rng.normal(0, 0.1, visits))
    y[4] = np.nan
    return y, rng.uniform(0.001, 0.02, visits), day


def exact_posterior(y, r, day, q):
    """Level and slope at every visit by one big regression: all states at once, no recursion."""
    n = len(y)
    precision, shift = np.zeros((2 * n, 2 * n)), np.zeros(2 * n)
    precision[0, 0], precision[1, 1] = 1e-9, 1 / q.slope_start
    for j in range(1, n):
        dt = day[j] - day[j - 1]
        noise = q.slope_a_day * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]]) + np.diag([q.level_a_day * dt, 0])
        both = np.hstack([-np.array([[1, dt], [0, 1]]), np.eye(2)])
        at = slice(2 * j - 2, 2 * j + 2)
        precision[at, at] += both.T @ np.linalg.inv(noise) @ both
    for j in np.flatnonzero(np.isfinite(y)):
        precision[2 * j, 2 * j] += 1 / r[j]
        shift[2 * j] += y[j] / r[j]
    covariance = np.linalg.inv(precision)
    return (covariance @ shift).reshape(n, 2), covariance


def test_filter_and_smoother_agree_with_solving_all_states_at_once():
    y, r, day = irregular()
    q = Variances(level_a_day=1e-3, slope_a_day=1e-5, error_scale=1.0, slope_start=1e-3)
    filtered = local_trend_filter(y[None], r[None], day[None], q)
    smoothed = local_trend_smoother(filtered, day[None], q)
    state, covariance = exact_posterior(y, r, day, q)
    assert smoothed.level[:, 0] == pytest.approx(state[:, 0], abs=1e-5)
    assert smoothed.slope[:, 0] == pytest.approx(state[:, 1], abs=1e-5)
    assert smoothed.p_ll[:, 0] == pytest.approx(np.diag(covariance)[::2], rel=1e-4)
    assert filtered.slope[-1, 0] == pytest.approx(state[-1, 1], abs=1e-5)


def test_padding_and_other_trees_change_nothing():
    y, r, day = irregular()
    q = Variances()
    alone = local_trend_filter(y[None], r[None], day[None], q)
    wide = np.full((2, 20), np.nan)
    padded = [wide.copy() for _ in range(3)]
    for target, values in zip(padded, (y, r, day), strict=True):
        target[0, :12] = values
        target[1, :5] = values[:5]
    together = local_trend_filter(*padded, q)
    assert together.log_likelihood[0] == pytest.approx(alone.log_likelihood[0])
    assert together.level[11, 0] == pytest.approx(alone.level[-1, 0])


def test_pooled_variances_come_back_from_simulated_trees():
    rng = np.random.default_rng(2)
    trees, visits = 150, 40
    day = np.cumsum(rng.integers(3, 6, (trees, visits)), axis=1).astype(float)
    gaps = np.diff(day, axis=1, prepend=day[:, :1])
    level = 4 + np.cumsum(rng.standard_normal(day.shape) * np.sqrt(4e-4 * gaps), axis=1)
    y = level + 0.06 * rng.standard_normal(day.shape)
    found = fit_variances(y, np.full(day.shape, 0.04**2), day)
    assert found.level_a_day == pytest.approx(4e-4, rel=0.2)
    assert found.error_scale == pytest.approx(0.06**2 / 0.04**2, rel=0.2)


def test_too_little_data_keeps_the_starting_values():
    assert fit_variances(np.array([[4.0, 4.1]]), np.array([[0.01, 0.01]]), np.array([[0.0, 3.0]])) == Variances()
