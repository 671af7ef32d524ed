"""Hourly temperatures drawn from a day's lowest and highest, and daily sums of what a temperature does each hour."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

HOURS = np.arange(24) + 0.5
"""Solar time in the middle of each hour."""
LAG_H = 4.0
"""Hours added to the day length in the sine, so that the highest comes two hours after noon; Linvill 1990."""
DAYLIGHT_H_MIN, DAYLIGHT_H_MAX = 4.0, 20.0
"""Beyond these the curve has no night or no day to stand on; longer and shorter days are drawn like these."""
BLOCK_VALUES_MAX = 1 << 18
"""Hourly values held at a time while summing: some MB, however many places there are."""


def hourly_temperatures(t_min: ArrayLike, t_max: ArrayLike, daylight_h: ArrayLike) -> Floats:
    """Temperature in the middle of each hour, shape (…, days, 24), from arrays of shape (…, days).

    Source: Linvill 1990 (HortScience 25:14-16), stated from memory: a sine from the lowest at sunrise by day, a
    logarithmic fall from sunset to the next lowest by night; hours of the night are counted from 1, as is usual, so
    that the fall begins at the sunset temperature. `daylight_h`: hours of daylight, broadcast. A neighbouring day that
    is not there, or is NaN, is taken to be like the day itself; NaN in gives NaN for that day only.
    Raises ValueError where a lowest lies above its highest.
    """
    low, high, daylight = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (t_min, t_max, daylight_h)))
    if np.any(low > high):
        raise ValueError("a day's lowest temperature lies above its highest")
    daylight = np.clip(daylight, DAYLIGHT_H_MIN, DAYLIGHT_H_MAX)
    night = 24.0 - daylight
    at_sunset = low + (high - low) * np.sin(np.pi * daylight / (daylight + LAG_H))
    sunset_before, night_before = _before(at_sunset, at_sunset), _before(night, night)
    next_low = _after(low, low)

    sunrise, sunset = (12.0 - daylight / 2.0)[..., None], (12.0 + daylight / 2.0)[..., None]
    by_day = low[..., None] + (high - low)[..., None] * np.sin(np.pi * (HOURS - sunrise) / (daylight[..., None] + LAG_H))
    early = _fall(sunset_before, low, night_before, HOURS + (night_before - (12.0 - daylight / 2.0))[..., None])
    late = _fall(at_sunset, next_low, night, HOURS - sunset)
    result: Floats = np.where(HOURS < sunrise, early, np.where(HOURS > sunset, late, by_day))
    return result


def daily_sum(
    t_min: ArrayLike, t_max: ArrayLike, daylight_h: ArrayLike, response: Callable[[Floats], Floats]
) -> Floats:
    """Sum of `response(temperature)` over each day's 24 hours, shape (…, days); memory bounded by blocks of places."""
    low, high, daylight = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (t_min, t_max, daylight_h)))
    days = low.shape[-1]
    rows = [x.reshape(-1, days) for x in (low, high, daylight)]
    total = np.empty((rows[0].shape[0], days))
    step = max(1, BLOCK_VALUES_MAX // (24 * max(days, 1)))
    for start in range(0, len(total), step):
        block = slice(start, start + step)
        total[block] = response(hourly_temperatures(*(x[block] for x in rows))).sum(axis=-1)
    return total.reshape(low.shape)


def _fall(start: Floats, end: Floats, night_h: Floats, hours_since: Floats) -> Floats:
    """Cooling from `start` at sunset to `end` at the next sunrise, by the logarithm of the hours since."""
    pace = np.log(np.maximum(hours_since, 0.0) + 1.0) / np.log(night_h + 1.0)[..., None]
    result: Floats = start[..., None] - (start - end)[..., None] * pace
    return result


def _before(values: Floats, otherwise: Floats) -> Floats:
    """Each day's value of the day before."""
    shifted = otherwise.copy()
    shifted[..., 1:] = values[..., :-1]
    return np.where(np.isfinite(shifted), shifted, otherwise)


def _after(values: Floats, otherwise: Floats) -> Floats:
    """Each day's value of the day after."""
    shifted = otherwise.copy()
    shifted[..., :-1] = values[..., 1:]
    return np.where(np.isfinite(shifted), shifted, otherwise)
