"""A place's heat and chill: what counts from when, and how gaps are told."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from server.analysis.gaps import Floats, fill_gaps
from server.analysis.heat import CHILL_START, CHILL_START_SOUTH, HEAT_START, HEAT_START_SOUTH, place_heat, season_start


def days(first: str, count: int) -> np.ndarray[tuple[int], np.dtype[np.datetime64]]:
    return np.arange(np.datetime64(first), np.datetime64(first) + count)


def flat(t: float, count: int) -> Floats:
    return np.full((1, count), t)


@pytest.mark.parametrize(
    ("on", "latitude", "heat", "chill"),
    [
        (date(2026, 5, 3), 42.0, date(2026, 1, 1), date(2025, 11, 1)),
        (date(2026, 1, 1), 42.0, date(2026, 1, 1), date(2025, 11, 1)),
        (date(2025, 12, 31), None, date(2025, 1, 1), date(2025, 11, 1)),
        (date(2026, 11, 1), 42.0, date(2026, 1, 1), date(2026, 11, 1)),
        (date(2026, 5, 3), -34.0, date(2025, 7, 1), date(2026, 5, 1)),
        (date(2026, 9, 3), -34.0, date(2026, 7, 1), date(2026, 5, 1)),
    ],
)
def test_seasons_start_by_hemisphere(on: date, latitude: float | None, heat: date, chill: date) -> None:
    assert season_start(on, latitude, HEAT_START, HEAT_START_SOUTH) == heat
    assert season_start(on, latitude, CHILL_START, CHILL_START_SOUTH) == chill


def test_flat_days_add_up_to_what_a_pencil_gives() -> None:
    """61 days of November and December and 10 of January at 6 °C: chill 24 a day, degree-days 2 a day above 4 °C."""
    count = 71
    filled = fill_gaps(flat(6.0, count), flat(6.0, count))
    found = place_heat(days("2025-11-01", count), filled, 0, 4.0, 36.0, 42.0)
    assert found.start == date(2026, 1, 1)
    assert found.degree_days == pytest.approx(20.0)
    assert (found.days, found.gaps, found.filled, found.missing) == (10, 0, 0, 0)
    assert found.chill_start == date(2025, 11, 1)
    assert found.chill_units == pytest.approx(24.0 * count)
    assert found.chill_hours == pytest.approx(24.0 * count)
    assert found.chill_days == count


def test_warm_weather_takes_chill_units_but_not_their_peak() -> None:
    """Utah: 20 days at 6 °C give 24 a day; 30 days at 20 °C take 24 a day (nights after the change are a bit less)."""
    low = np.concatenate([flat(6.0, 20), flat(20.0, 30)], axis=1)
    found = place_heat(days("2025-12-01", 50), fill_gaps(low, low), 0, 8.0, None, None)
    assert found.chill_units_peak == pytest.approx(480.0, abs=12.0)
    assert found.chill_peak_on in (date(2025, 12, 20), date(2025, 12, 21))
    assert found.chill_units == pytest.approx(-240.0, abs=24.0)


def test_a_warm_winter_has_no_peak() -> None:
    low = flat(20.0, 30)
    found = place_heat(days("2025-11-01", 30), fill_gaps(low, low), 0, 8.0, None, None)
    assert (found.chill_units, found.chill_units_peak, found.chill_peak_on) == (-720.0, 0.0, date(2025, 11, 1))


def test_sums_begin_with_the_first_reading_and_say_so() -> None:
    low = flat(10.0, 120)
    low[0, :90] = np.nan
    filled = fill_gaps(low, low)
    found = place_heat(days("2026-01-01", 120), filled, 0, 8.0, None, 42.0)
    assert found.start == date(2026, 4, 1)
    assert found.degree_days == pytest.approx(60.0)
    assert (found.days, found.gaps) == (30, 0)


def test_gaps_are_told_apart_into_filled_and_missing() -> None:
    low = flat(10.0, 60)
    low[0, 20] = np.nan
    low[0, 30:35] = np.nan
    filled = fill_gaps(low, low)
    found = place_heat(days("2026-01-01", 60), filled, 0, 8.0, None, None)
    assert (found.days, found.gaps, found.filled, found.missing) == (55, 6, 1, 5)
    assert found.degree_days == pytest.approx(110.0)


def test_half_a_reading_is_a_gap() -> None:
    low, high = flat(10.0, 30), flat(14.0, 30)
    high[0, 12] = np.nan
    found = place_heat(days("2026-01-01", 30), fill_gaps(low, high), 0, 8.0, None, None)
    assert (found.days, found.gaps, found.filled) == (30, 1, 1)


def test_without_a_reading_nothing_is_known() -> None:
    nothing = np.full((1, 40), np.nan)
    found = place_heat(days("2026-01-01", 40), fill_gaps(nothing, nothing), 0, 8.0, None, None)
    assert np.isnan([found.degree_days, found.growing_degree_hours, found.chill_units, found.chill_hours]).all()
    assert (found.days, found.gaps, found.missing) == (0, 0, 0)


def test_a_place_filled_from_its_neighbour_comes_near_its_true_sum() -> None:
    """Half of one place's spring is hidden; its degree-days come back to within 2 %."""
    rng = np.random.default_rng(8)
    air = 6.0 + 0.1 * np.arange(140) + rng.normal(0, 3.0, 140)
    lows = np.array([air, 0.9 * air + 4.0 + rng.normal(0, 0.5, 140)])
    highs = lows + np.array([[9.0], [14.0]])
    span = days("2026-01-01", 140)
    whole = place_heat(span, fill_gaps(lows, highs), 1, 8.0, 36.0, 42.0)
    lows[1, 30:100] = np.nan
    highs[1, 30:100] = np.nan
    found = place_heat(span, fill_gaps(lows, highs), 1, 8.0, 36.0, 42.0)
    assert (found.days, found.gaps, found.filled) == (140, 70, 70)
    assert found.degree_days == pytest.approx(whole.degree_days, rel=0.02)
    assert found.chill_hours == pytest.approx(whole.chill_hours, abs=6.0)
