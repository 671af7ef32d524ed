"""A tree's leaf trend in words that the data support: total now, change a week, direction, the smoothed curve."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from server.analysis.kalman import (
    Floats,
    Track,
    Variances,
    covariance_with_last,
    local_trend_filter,
    local_trend_smoother,
)
from server.analysis.leaves import EMPTY_LEAVES, Z_90, Sampling, leaves_of
from server.analysis.pooled_variances import fit_variances
from server.analysis.steady import steady_slope
from server.analysis.unrest import extra_movement

STEADY_PERCENT_A_WEEK = 6.0
"""A change whose whole interval lies within this is called steady; a grower's setting, no published source."""
CHANGE_DAYS = 14.0
"""The change is that of the days up to the last count, so that a drop shows before the season's slope turns."""
LEVEL_A_DAY_MIN = 5.0e-5
"""Beside drifting shoots no tree is thought to move more evenly than this, or it would hide behind their drift."""
COUNTS_MIN = 3
"""A direction needs at least so many counts."""


@dataclass(frozen=True)
class Trends:
    """One row a tree: leaves with 90 % interval, change in percent a week (mean of the last CHANGE_DAYS) with 90 %
    interval, direction.

    NaN and "unknown" where too little was counted. `smooth`, `smooth_low`, `smooth_high`: the smoothed totals at each
    visit, shape (trees, visits). `track` is the filtered trend by the pooled variances alone, shape (visits, trees),
    whose surprises the leaf-drop test looks at; the figures also know where a tree is restless (unrest.py).
    """

    leaves: Floats
    leaves_low: Floats
    leaves_high: Floats
    change: Floats
    change_low: Floats
    change_high: Floats
    direction: list[str]
    smooth: Floats
    smooth_low: Floats
    smooth_high: Floats
    track: Track
    steady: Track
    variances: Variances


def leaf_trends(
    day: Floats,
    log_leaves: Floats,
    log_var: Floats,
    variances: Variances | None = None,
    sampling: Sampling | None = None,
) -> Trends:
    """Fit the local linear trend to every tree; arrays of shape (trees, visits) as in kalman.py.

    `variances` are fitted to the collection where not given. The figures are those at a tree's last count, not
    carried on beyond it. With `sampling` the trend follows the marked shoots: what they stand off their tree widens the
    interval of the total, what they drift off it that of the change.
    """
    bias, drift = (np.zeros_like(day),) * 2 if sampling is None else (sampling.bias_var, sampling.gained_var)
    if variances is None:
        fitted = fit_variances(log_leaves, log_var, day, gained_var=drift)
        variances = replace(fitted, steady_slope_a_day=steady_slope(log_leaves, log_var, day, fitted, drift))
    calm = local_trend_filter(log_leaves, log_var, day, variances, drift)
    extra = drift + extra_movement(calm, day)
    track = local_trend_filter(log_leaves, log_var, day, variances, extra)
    smooth = local_trend_smoother(track, day, variances, extra)
    counts = np.isfinite(log_leaves)
    trees, visits = counts.shape
    last = visits - 1 - np.argmax(counts[:, ::-1], axis=1) if visits else np.zeros(trees, dtype=np.int64)
    rows = np.arange(trees)

    def at_last(values: Floats) -> Floats:
        return np.where(counts.any(axis=1), values[last, rows], np.nan) if visits else np.full(trees, np.nan)

    level, level_sd = at_last(track.level), np.sqrt(at_last(track.p_ll + bias.T))
    slope, slope_sd = _recent_slope(day, track, smooth, (variances, extra, drift), last)
    low, high = percent_a_week(slope - Z_90 * slope_sd), percent_a_week(slope + Z_90 * slope_sd)
    direction = [
        direction_of(a, b) if n >= COUNTS_MIN else "unknown"
        for a, b, n in zip(low, high, counts.sum(axis=1), strict=True)
    ]
    curve_sd = np.sqrt(smooth.p_ll.T + bias)
    curve = smooth.level.T
    return Trends(
        leaves=_leaves(level),
        leaves_low=_leaves(level - Z_90 * level_sd),
        leaves_high=_leaves(level + Z_90 * level_sd),
        change=percent_a_week(slope),
        change_low=low,
        change_high=high,
        direction=direction,
        smooth=_leaves(curve),
        smooth_low=_leaves(curve - Z_90 * curve_sd),
        smooth_high=_leaves(curve + Z_90 * curve_sd),
        track=calm,
        steady=local_trend_filter(log_leaves, log_var, day, variances.steady(), drift),
        variances=variances,
    )


def _recent_slope(
    day: Floats, track: Track, smooth: Track, noise: tuple[Variances, Floats, Floats], last: NDArray[np.int64]
) -> tuple[Floats, Floats]:
    """Mean change of ln(leaves) a day over the CHANGE_DAYS before visit `last`, with its standard deviation.

    From the smoothed states at both ends and their covariance; a younger tree's change counts from its first count.
    `noise`: the variances, what the level gained beside them, and how much of that was drift of marked shoots. Of what
    the level moved beside its slope, the tree's own share is that of its variance.
    """
    trees, visits = day.shape
    if not visits:
        return np.full(trees, np.nan), np.full(trees, np.nan)
    variances, gained, drift = noise
    rows = np.arange(trees)
    begun = np.isfinite(track.level.T)
    early = begun & (day <= day[rows, last][:, None] - CHANGE_DAYS)
    start = np.where(early.any(axis=1), visits - 1 - np.argmax(early[:, ::-1], axis=1), np.argmax(begun, axis=1))
    days = day[rows, last] - day[rows, start]
    days = np.where(begun.any(axis=1) & (days > 0), days, np.nan)
    both, drifted = (np.cumsum(each, axis=1) for each in (gained, drift))
    both, drifted = (each[rows, last] - each[rows, start] for each in (both, drifted))
    own = max(variances.level_a_day, LEVEL_A_DAY_MIN) * days + both - drifted
    # A restless tree's own movement is told by nothing but its counts: nothing of it is laid on the shoots.
    share = np.where(both > drifted + 1e-12, 1.0, own / np.maximum(own + drifted, 1e-300))
    weights = np.array([[-share, (1.0 - share) * days / 2.0], [share, (1.0 - share) * days / 2.0]])
    ends = [
        [getattr(smooth, name)[at, rows] for name in ("level", "slope", "p_ll", "p_ls", "p_ss")] for at in (start, last)
    ]
    shared = covariance_with_last(track, day, variances, last, gained)[:, :, start, rows]
    variance = 2.0 * np.einsum("it,ijt,jt->t", weights[0], shared, weights[1]) + share * drifted
    change = np.zeros(trees)
    for (a, b), (level, slope, p_ll, p_ls, p_ss) in zip(weights, ends, strict=True):
        change = change + a * level + b * slope
        variance = variance + a * a * p_ll + 2.0 * a * b * p_ls + b * b * p_ss
    return change / days, np.sqrt(np.maximum(variance, 0.0)) / days


def direction_of(low_percent: float, high_percent: float) -> str:
    """Name the direction of a change from its 90 % interval in percent a week; unknown where both would fit."""
    if np.isnan(low_percent) or np.isnan(high_percent):
        return "unknown"
    if max(-low_percent, high_percent) <= STEADY_PERCENT_A_WEEK:
        return "steady"
    if low_percent > 0:
        return "rising"
    return "falling" if high_percent < 0 else "unknown"


def _leaves(level: Floats) -> Floats:
    """Back from the log scale; below one leaf there is none."""
    leaves = leaves_of(level)
    return np.where(leaves < 2 * EMPTY_LEAVES, 0.0, leaves)


def percent_a_week(slope_a_day: Floats) -> Floats:
    """Turn a slope of ln(leaves) a day into percent a week."""
    percent: Floats = 100.0 * np.expm1(np.clip(7.0 * slope_a_day, -20.0, 5.0))
    return percent
