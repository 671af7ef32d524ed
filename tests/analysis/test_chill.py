"""Chill and heat by the hour against the published bands and curves, and the hours against their definition."""

from __future__ import annotations

from math import log, pi, sin

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.analysis import hourly
from server.analysis.chill import chill_hours, growing_degree_hours, utah_chill_units
from server.analysis.hourly import daily_sum, hourly_temperatures

# Anderson et al. 1986, Acta Hort. 184:71-78: 4/25/36 °C; the values between were computed from the published curve.
ANDERSON = [(4, 0), (10, 3.953), (14.5, 10.5), (20, 18.197), (25, 21), (30, 7.248), (36, 0), (-5, 0), (45, 0)]
# Richardson, Seeley & Walker 1974, HortScience 9:331-332; the half unit from 1.4 to 2.4 °C is from memory.
UTAH = [
    *[(-10, 0), (0, 0), (1.3, 0), (1.5, 0.5), (2.4, 0.5), (2.5, 1), (6, 1), (9.1, 1), (9.2, 0.5), (12.4, 0.5)],
    *[(12.5, 0), (15.9, 0), (16, -0.5), (18, -0.5), (18.1, -1), (30, -1)],
]


@pytest.mark.parametrize(("t", "expected"), ANDERSON)
def test_growing_degree_hours_agree_with_anderson(t: float, expected: float) -> None:
    assert growing_degree_hours(t) == pytest.approx(expected, abs=0.0006)


@pytest.mark.parametrize(("t", "expected"), UTAH)
def test_chill_units_agree_with_the_utah_bands(t: float, expected: float) -> None:
    assert utah_chill_units(t) == expected


def test_chill_hours_lie_below_45_fahrenheit() -> None:
    """Weinberger 1950, as extension services count it: frost counts too."""
    assert chill_hours([-8.0, 0.0, 7.1, 7.2, 12.0]).tolist() == [1, 1, 1, 0, 0]


def test_an_unknown_hour_is_worth_nothing_known() -> None:
    for worth in (growing_degree_hours, utah_chill_units, chill_hours):
        assert np.isnan(worth([np.nan, 5.0])).tolist() == [True, False]


def by_hand(low: float, high: float, daylight: float, hour: float) -> float:
    """Linvill 1990 for days that are all alike, in plain scalars."""
    sunrise, sunset, night = 12 - daylight / 2, 12 + daylight / 2, 24 - daylight
    at_sunset = low + (high - low) * sin(pi * daylight / (daylight + 4))
    if sunrise <= hour <= sunset:
        return low + (high - low) * sin(pi * (hour - sunrise) / (daylight + 4))
    since = hour - sunset if hour > sunset else hour + 24 - sunset
    return at_sunset - (at_sunset - low) * log(since + 1) / log(night + 1)


@pytest.mark.parametrize("daylight", [8.0, 10.5, 12.0, 16.0])
def test_hourly_temperatures_follow_the_published_curve(daylight: float) -> None:
    drawn = hourly_temperatures([3.0] * 3, [19.0] * 3, daylight)
    expected = [by_hand(3.0, 19.0, daylight, hour + 0.5) for hour in range(24)]
    for day in drawn:
        assert day == pytest.approx(expected, abs=1e-9)


def test_the_warmest_hour_is_two_after_noon_and_the_coolest_near_sunrise() -> None:
    drawn = hourly_temperatures([3.0] * 3, [19.0] * 3, 12.0)[1]
    assert drawn.argmax() in (13, 14)
    assert drawn.argmin() in (5, 6)
    assert drawn.max() == pytest.approx(19.0, abs=0.1)
    assert drawn.min() == pytest.approx(3.0, abs=0.7)


def test_a_night_runs_from_one_day_into_the_next() -> None:
    drawn = hourly_temperatures([5.0, -5.0, 0.0], [20.0, 5.0, 15.0], 12.0)
    around_midnight = np.concatenate([drawn[0, 18:], drawn[1, :6]])
    assert np.all(np.diff(around_midnight) < 0.0)
    assert np.abs(np.diff(around_midnight)).max() < 6.0


@given(
    st.lists(st.tuples(st.floats(-30, 30), st.floats(0, 25)), min_size=1, max_size=8),
    st.floats(0, 24, allow_nan=False),
)
def test_no_hour_leaves_the_bounds_of_its_days(weather: list[tuple[float, float]], daylight: float) -> None:
    low = np.array([each[0] for each in weather])
    high = low + [each[1] for each in weather]
    drawn = hourly_temperatures(low, high, daylight)
    assert drawn.shape == (len(low), 24)
    assert drawn.min() >= low.min() - 1e-9
    assert drawn.max() <= high.max() + 1e-9


@given(st.floats(-20, 30), st.floats(0, 24))
def test_a_flat_day_is_flat(t: float, daylight: float) -> None:
    assert hourly_temperatures([t, t], [t, t], daylight) == pytest.approx(t, abs=1e-9)
    assert daily_sum([t], [t], daylight, growing_degree_hours) == pytest.approx(
        24.0 * growing_degree_hours(t), abs=1e-6
    )


def test_an_unknown_day_leaves_its_neighbours_known() -> None:
    sums = daily_sum([3.0, np.nan, 3.0], [12.0, 12.0, 12.0], 12.0, chill_hours)
    assert np.isnan(sums).tolist() == [False, True, False]


def test_sums_do_not_depend_on_the_block(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(3)
    low = rng.normal(5.0, 5.0, (7, 30))
    high = low + rng.gamma(3.0, 3.0, low.shape)
    whole = daily_sum(low, high, 11.0, utah_chill_units)
    monkeypatch.setattr(hourly, "BLOCK_VALUES_MAX", 1)
    assert np.array_equal(daily_sum(low, high, 11.0, utah_chill_units), whole)


def test_a_day_upside_down_is_refused() -> None:
    with pytest.raises(ValueError, match="above its highest"):
        hourly_temperatures([5.0], [4.0], 12.0)
