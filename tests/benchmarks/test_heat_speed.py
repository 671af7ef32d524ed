"""Heat and chill of 10,000 places over a year: processor seconds a method."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest

from server.analysis import chill, degree_days, gaps, hourly, sun
from server.analysis.gaps import Floats

PLACES, DAYS = 10_000, 365
DEGREE_DAYS_S_MAX = 1.0
HOURLY_S_MAX = 5.0
"""Hourly methods look at 24 times as many values, 88 million."""
GAPS_PLACES, GAPS_S_MAX = 300, 2.0

pytestmark = pytest.mark.benchmark


@pytest.fixture(scope="module")
def weather() -> tuple[Floats, Floats]:
    rng = np.random.default_rng(1)
    low = rng.normal(8.0, 6.0, (PLACES, DAYS))
    return low, low + rng.gamma(4.0, 2.5, low.shape)


def cpu_s(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


@pytest.mark.parametrize("method", [degree_days.single_triangle, degree_days.single_sine], ids=["triangle", "sine"])
def test_degree_days_of_10_000_places(method: Callable[..., Floats], weather: tuple[Floats, Floats]) -> None:
    took_s = cpu_s(lambda: method(*weather, 8.0, 36.0))
    print(f"{method.__name__}: {took_s:.2f} s")
    assert took_s < DEGREE_DAYS_S_MAX


@pytest.mark.parametrize(
    "worth", [chill.utah_chill_units, chill.chill_hours, chill.growing_degree_hours], ids=["utah", "hours", "growth"]
)
def test_hourly_sums_of_10_000_places(worth: Callable[..., Floats], weather: tuple[Floats, Floats]) -> None:
    daylight_h = sun.daylight_hours(np.arange(1, DAYS + 1), 40.0)
    took_s = cpu_s(lambda: hourly.daily_sum(*weather, daylight_h, worth))
    print(f"{worth.__name__}: {took_s:.2f} s")
    assert took_s < HOURLY_S_MAX


def test_gaps_in_300_places() -> None:
    rng = np.random.default_rng(2)
    low = rng.normal(8.0, 6.0, DAYS) + rng.normal(0.0, 1.0, (GAPS_PLACES, DAYS))
    low[rng.random(low.shape) < 0.05] = np.nan
    took_s = cpu_s(lambda: gaps.fill_gaps(low, low + 8.0))
    print(f"gaps: {took_s:.2f} s")
    assert took_s < GAPS_S_MAX
