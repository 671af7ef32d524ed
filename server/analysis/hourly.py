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
"""Hourly values held at a time while summing: a few MB, however many places there are."""


def hourly_temperatures(t_min: ArrayLike, t_max: ArrayLike, daylight_h: ArrayLike) -> Floats:
    """Temperature in the middle of each hour, shape (…, days, 24), from consecutive days of shape (…, days).

    Source: Linvill 1990 (HortScience 25:14-16), stated from memory: a sine from the lowest at sunrise by day, a
    logarithmic fall from sunset to the next lowest by night; hours of the night are counted from 1, as is usual, so
    that the fall begins at the sunset temperature. `daylight_h`: hours of daylight, shape (days,) or one number (one
    latitude at a time). A neighbouring day that is not there, or is NaN, is taken to be like the day itself; NaN in
    gives NaN for that day only. Raises ValueError where a lowest lies above its highest.
    """
    low, high = _days(t_min, t_max)
    return _drawn(low, high, _weights(daylight_h, low.shape[-1]))


def daily_sum(
    t_min: ArrayLike, t_max: ArrayLike, daylight_h: ArrayLike, response: Callable[[Floats], Floats]
) -> Floats:
    """Sum of `response(temperature)` over each day's 24 hours, shape (…, days); memory bounded by blocks of places.

    Arguments as in `hourly_temperatures`; `response` takes and gives arrays of one shape.
    """
    low, high = _days(t_min, t_max)
    days = low.shape[-1]
    weights = _weights(daylight_h, days)
    low_rows, high_rows = low.reshape(-1, days), high.reshape(-1, days)
    total = np.empty(low_rows.shape)
    step = max(1, BLOCK_VALUES_MAX // (24 * max(days, 1)))
    for start in range(0, len(total), step):
        block = slice(start, start + step)
        total[block] = response(_drawn(low_rows[block], high_rows[block], weights)).sum(axis=-1)
    return total.reshape(low.shape)


def _days(t_min: ArrayLike, t_max: ArrayLike) -> tuple[Floats, Floats]:
    low, high = np.broadcast_arrays(np.asarray(t_min, dtype=float), np.asarray(t_max, dtype=float))
    if np.any(low > high):
        raise ValueError("a day's lowest temperature lies above its highest")
    return low, high


def _drawn(low: Floats, high: Floats, weights: Floats) -> Floats:
    """Every hour is a weighted mean of five temperatures, with weights that depend on the day length alone."""
    known = np.isfinite(low) & np.isfinite(high)
    low_before, high_before = low.copy(), high.copy()
    low_before[..., 1:] = np.where(known[..., :-1], low[..., :-1], low[..., 1:])
    high_before[..., 1:] = np.where(known[..., :-1], high[..., :-1], high[..., 1:])
    next_low = low.copy()
    next_low[..., :-1] = np.where(known[..., 1:], low[..., 1:], low[..., :-1])
    parts = np.stack([low_before, high_before, low, high, next_low], axis=-1)
    hourly: Floats = np.einsum("...dk,dkh->...dh", parts, weights)
    return hourly


def _weights(daylight_h: ArrayLike, days: int) -> Floats:
    """Weights of (lowest and highest of the day before, lowest, highest, next lowest), shape (days, 5, 24)."""
    daylight = np.clip(np.broadcast_to(np.asarray(daylight_h, dtype=float), (days,)), DAYLIGHT_H_MIN, DAYLIGHT_H_MAX)
    night = 24.0 - daylight
    swing_at_sunset = np.sin(np.pi * daylight / (daylight + LAG_H))[:, None]
    before = np.concatenate([swing_at_sunset[:1], swing_at_sunset[:-1]])
    sunrise, sunset = (12.0 - daylight / 2.0)[:, None], (12.0 + daylight / 2.0)[:, None]
    swing = np.sin(np.pi * (HOURS - sunrise) / (daylight[:, None] + LAG_H))
    length = np.log(night + 1.0)[:, None]
    # The hours are counted back from this sunrise, so that the fall ends at the day's own lowest.
    early_fall = np.log(np.maximum(HOURS + night[:, None] - sunrise, 0.0) + 1.0) / length
    late_fall = np.log(np.maximum(HOURS - sunset, 0.0) + 1.0) / length

    is_early, is_late = sunrise > HOURS, sunset < HOURS
    is_day = ~is_early & ~is_late
    left = 1.0 - late_fall
    weights = np.zeros((days, 5, 24))
    weights[:, 0] = np.where(is_early, (1.0 - before) * (1.0 - early_fall), 0.0)
    weights[:, 1] = np.where(is_early, before * (1.0 - early_fall), 0.0)
    weights[:, 2] = np.select([is_early, is_day], [early_fall, 1.0 - swing], (1.0 - swing_at_sunset) * left)
    weights[:, 3] = np.select([is_early, is_day], [np.zeros_like(swing), swing], swing_at_sunset * left)
    weights[:, 4] = np.where(is_late, late_fall, 0.0)
    return weights
