"""Gap filling against simulated weather whose hidden days are known, and against its own bounds."""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.gaps import (
    BEYOND_C_MAX,
    BRIDGED,
    MISSING,
    OVERLAP_DAYS_MIN,
    RECORDED,
    REGRESSED,
    Filled,
    Floats,
    fill_gaps,
)

DAYS = 150


def weather(seed: int, places: int = 4, noise: float = 0.4) -> tuple[Floats, Floats]:
    """A spring in several places: the same air, each place's own line through it, a thermometer's noise."""
    rng = np.random.default_rng(seed)
    season = 5.0 + 0.1 * np.arange(DAYS)
    front = np.zeros(DAYS)
    for day in range(1, DAYS):
        front[day] = 0.7 * front[day - 1] + rng.normal(0.0, 2.0)
    low, swing = season + front, rng.gamma(8.0, 1.2, DAYS)
    slope, offset = rng.uniform(0.7, 1.3, (places, 1)), rng.uniform(-2.0, 4.0, (places, 1))
    lows = slope * low + offset + rng.normal(0.0, noise, (places, DAYS))
    highs = lows + np.maximum(swing * slope + rng.normal(0.0, noise, (places, DAYS)), 0.5)
    return lows, highs


def test_hidden_days_come_back_within_the_stated_error() -> None:
    """Over 40 simulated springs: no bias, and errors as large as said."""
    errors, stated = [], []
    for seed in range(40):
        lows, highs = weather(seed)
        hidden = lows.copy()
        hidden[0, 60:75] = np.nan
        filled = fill_gaps(hidden, highs)
        assert (filled.min_from[0, 60:75] == REGRESSED).all()
        errors.append(filled.t_min[0, 60:75] - lows[0, 60:75])
        stated.append(filled.min_error_c[0, 60:75])
    error, said = np.array(errors), np.array(stated)
    assert abs(error.mean()) < 0.1
    assert np.sqrt((error**2).mean()) == pytest.approx(np.sqrt((said**2).mean()), rel=0.15)


def test_an_exact_line_is_found_exactly_and_only_the_gap_is_touched() -> None:
    low = np.arange(20.0) % 7
    lows = np.array([low, 0.8 * low + 3.0])
    lows[1, 12:18] = np.nan
    highs = np.array([low + 10.0, low + 12.0])
    filled = fill_gaps(lows, highs)
    assert filled.t_min[1] == pytest.approx(0.8 * low + 3.0)
    assert (filled.min_from[1] == REGRESSED).tolist() == [12 <= day < 18 for day in range(20)]
    assert np.array_equal(filled.t_min[0], low)
    assert np.array_equal(filled.t_max, highs)
    assert filled.recorded.sum() == 40 - 6
    assert filled.known.all()


def test_the_best_neighbour_speaks_and_the_next_best_where_it_is_silent() -> None:
    rng = np.random.default_rng(5)
    air = rng.normal(8.0, 4.0, 60)
    lows = np.array([air, air + rng.normal(0, 1.0, 60) + 5.0, air + rng.normal(0, 0.1, 60) - 2.0])
    lows[0, 30:40] = np.nan
    lows[2, 35:40] = np.nan
    filled = fill_gaps(lows, lows + 8.0)
    near, far = filled.min_error_c[0, 30], filled.min_error_c[0, 36]
    assert near == pytest.approx(0.1, abs=0.05)
    assert far == pytest.approx(1.0, abs=0.3)


def test_alone_a_place_bridges_two_days_and_leaves_three() -> None:
    lows = np.array([[4.0, 5.0, np.nan, np.nan, 8.0, 6.0, np.nan, np.nan, np.nan, 2.0, np.nan]])
    filled = fill_gaps(lows, np.where(np.isnan(lows), np.nan, lows + 9.0))
    assert filled.t_min[0, 2:4].tolist() == [6.0, 7.0]
    assert (filled.min_from[0] == BRIDGED).nonzero()[0].tolist() == [2, 3]
    # Three days in a row and a day at the end have nothing to stand on.
    assert (filled.min_from[0] == MISSING).nonzero()[0].tolist() == [6, 7, 8, 10]
    assert np.isnan(filled.t_min[0, 6:9]).all()


@pytest.mark.parametrize("case", ["too few days", "unlike", "opposite"])
def test_a_neighbour_that_tells_nothing_does_not_speak(case: str) -> None:
    rng = np.random.default_rng(2)
    air = rng.normal(8.0, 4.0, 60)
    lows = np.array([air, air.copy()])
    if case == "too few days":
        lows[1, OVERLAP_DAYS_MIN - 1 : 40] = np.nan
        lows[0, 40:] = np.nan
    elif case == "unlike":
        lows[1] = rng.normal(18.0, 0.5, 60)
        lows[0, 20:30] = np.nan
    else:
        lows[1] = 20.0 - air
        lows[0, 20:30] = np.nan
    filled = fill_gaps(lows, lows + 8.0)
    assert not (filled.min_from == REGRESSED).any()
    assert (filled.min_from[0, 20:30] == MISSING).all() or case == "too few days"


@pytest.mark.parametrize(
    ("spread_c", "noise_c", "speaks"),
    [
        # FAO-56, annex 4: r² of at least 0.7; 1.5² against 1.5² + 2² is 0.36.
        (1.5, 2.0, False),
        # r² is 0.9, but a value 5 °C off helps nobody.
        (15.0, 5.0, False),
        (6.0, 2.0, True),
    ],
)
def test_a_neighbour_must_tell_enough_and_closely(spread_c: float, noise_c: float, speaks: bool) -> None:
    rng = np.random.default_rng(4)
    air = rng.normal(8.0, spread_c, 200)
    lows = np.array([air + rng.normal(0.0, noise_c, 200), air])
    lows[0, 50:60] = np.nan
    filled = fill_gaps(lows, lows + 8.0)
    assert (filled.min_from[0, 50:60] == (REGRESSED if speaks else MISSING)).all()


def test_a_filled_value_stays_near_what_the_place_has_shown() -> None:
    low = np.linspace(5.0, 9.0, 30)
    lows = np.array([low, low.copy()])
    lows[0, 10:15] = np.nan
    lows[1, 12] = 40.0
    lows[1, 13] = -40.0
    filled = fill_gaps(lows, np.full(lows.shape, 60.0))
    assert filled.t_min[0, 10:15].max() <= 9.0 + BEYOND_C_MAX
    assert filled.t_min[0, 10:15].min() >= 5.0 - BEYOND_C_MAX


def test_lowest_never_ends_above_highest_and_readings_stand() -> None:
    for seed in range(20):
        lows, highs = weather(seed, noise=1.0)
        rng = np.random.default_rng(100 + seed)
        gap_low, gap_high = rng.random(lows.shape) < 0.3, rng.random(lows.shape) < 0.3
        seen_low, seen_high = np.where(gap_low, np.nan, lows), np.where(gap_high, np.nan, highs)
        filled = fill_gaps(seen_low, seen_high)
        assert not (filled.t_min > filled.t_max).any()
        assert np.array_equal(filled.t_min[~gap_low], lows[~gap_low])
        assert np.array_equal(filled.t_max[~gap_high], highs[~gap_high])
        check_marks(filled, seen_low, seen_high)


def check_marks(filled: Filled, seen_low: Floats, seen_high: Floats) -> None:
    assert np.array_equal(filled.min_from == RECORDED, np.isfinite(seen_low))
    assert np.array_equal(filled.max_from == RECORDED, np.isfinite(seen_high))
    assert np.array_equal(filled.min_from == MISSING, np.isnan(filled.t_min))
    assert np.array_equal(filled.max_from == MISSING, np.isnan(filled.t_max))
    assert np.array_equal(filled.min_from == REGRESSED, np.isfinite(filled.min_error_c))


def test_crossing_values_meet_at_the_reading() -> None:
    """The lowest was read off at 12 °C, the highest would be filled with less."""
    air = np.linspace(0.0, 20.0, 30)
    highs = np.array([air + 10.0, air + 10.0])
    lows = np.array([air, air])
    highs[0, 5] = np.nan
    lows[0, 5] = 18.0
    filled = fill_gaps(lows, highs)
    assert filled.t_min[0, 5] == 18.0
    assert filled.t_max[0, 5] == 18.0


def test_places_without_any_reading_stay_empty() -> None:
    nothing = np.full((2, 12), np.nan)
    filled = fill_gaps(nothing, nothing)
    assert not filled.known.any()
    one = np.array([np.arange(12.0), [np.nan] * 12])
    filled = fill_gaps(one, one + 5.0)
    assert filled.known.tolist() == [[True] * 12, [False] * 12]


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="above its highest"):
        fill_gaps([[5.0]], [[4.0]])
    with pytest.raises(ValueError, match="one shape"):
        fill_gaps([[5.0]], [[7.0, 8.0]])
