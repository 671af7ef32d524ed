"""Missing days of a place's temperatures, filled from the place that tells most about it, and marked.

After FAO-56 (Allen et al. 1998), annex 4, from memory: regression on the nearest like place. Temperatures in °C.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Marks = NDArray[np.uint8]

RECORDED, REGRESSED, BRIDGED, MISSING = 0, 1, 2, 3
"""Where a value comes from: read off, another place's reading, the days around it, or nowhere."""

# When a neighbour may speak for a place: FAO-56 (Allen et al. 1998), annex 4, asks for r² of at least 0.7 and, between
# like stations, a slope from 0.7 to 1.3 (from memory); glass widens a day's swing, so that the slope may range further.
R2_MIN = 0.7
SLOPE_MIN, SLOPE_MAX = 0.3, 2.0
OVERLAP_DAYS_MIN = 10
ERROR_C_MAX = 3.0
BEYOND_C_MAX = 5.0
"""A filled value lies at most so far outside what the place itself has shown."""
BRIDGE_DAYS_MAX = 2
NEIGHBOURS_MAX = 8
BLOCK_PLACES = 128
_TINY = 1e-9


@dataclass(frozen=True)
class Filled:
    """Daily lowest and highest, °C, and where each comes from; all of shape (places, days).

    `min_error_c`, `max_error_c`: the regression's standard error where REGRESSED, else NaN.
    """

    t_min: Floats
    t_max: Floats
    min_from: Marks
    max_from: Marks
    min_error_c: Floats
    max_error_c: Floats

    @property
    def recorded(self) -> NDArray[np.bool_]:
        """Days on which both were read off."""
        both: NDArray[np.bool_] = (self.min_from == RECORDED) & (self.max_from == RECORDED)
        return both

    @property
    def known(self) -> NDArray[np.bool_]:
        """Days on which both are there, read off or filled."""
        both: NDArray[np.bool_] = (self.min_from != MISSING) & (self.max_from != MISSING)
        return both


def fill_gaps(t_min: ArrayLike, t_max: ArrayLike) -> Filled:
    """Fill missing (NaN) temperatures of shape (places, days), lowest and highest apart.

    A value comes from the neighbour whose least-squares line over the common days has the smallest standard error and
    keeps the bounds above; where none may speak, gaps of at most 2 days are bridged in a straight line from the days
    around them; longer ones stay gaps. Valid for up to about a year at a time: one line must hold for all of it.
    Raises ValueError where a lowest lies above its highest.
    """
    low, high = np.array(t_min, dtype=float, ndmin=2), np.array(t_max, dtype=float, ndmin=2)
    if low.shape != high.shape:
        raise ValueError("lowest and highest temperatures must have one shape")
    if np.any(low > high):
        raise ValueError("a day's lowest temperature lies above its highest")
    low, min_from, min_error = _filled(low)
    high, max_from, max_error = _filled(high)
    # Filled apart, the two can cross; the one that was read off stands, and the other gives way to it.
    crossed = low > high
    low_gives = crossed & (min_from != RECORDED)
    middle = np.where(max_from == RECORDED, high, (low + high) / 2.0)
    low = np.where(low_gives, middle, low)
    high = np.where(crossed, np.maximum(low, np.where(min_from == RECORDED, low, middle)), high)
    return Filled(low, high, min_from, max_from, min_error, max_error)


def _filled(values: Floats) -> tuple[Floats, Marks, Floats]:
    """Fill one kind of reading; also its marks and errors."""
    filled, error = values.copy(), np.full(values.shape, np.nan)
    marks = np.where(np.isnan(values), MISSING, RECORDED).astype(np.uint8)
    short = np.flatnonzero((marks == MISSING).any(axis=1) & (marks == RECORDED).any(axis=1))
    for start in range(0, len(short), BLOCK_PLACES):
        block = short[start : start + BLOCK_PLACES]
        lines = _lines(values, block)
        for row, place in enumerate(block):
            _regress(values, filled[place], marks[place], error[place], tuple(line[row] for line in lines))
    for place in np.flatnonzero((marks == MISSING).any(axis=1)):
        _bridge(filled[place], marks[place])
    return filled, marks, error


def _lines(values: Floats, block: NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
    """Slope, intercept and standard error of each place of the block on every place; the error inf where barred."""
    centre = np.nanmean(values)
    there = np.isfinite(values).astype(float)
    x = np.where(there > 0, values - centre, 0.0)
    y, own = x[block], there[block]
    n = own @ there.T
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_y, mean_x = (y @ there.T) / n, (own @ x.T) / n
        yy = (y**2 @ there.T) - n * mean_y**2
        xx = (own @ (x**2).T) - n * mean_x**2
        xy = (y @ x.T) - n * mean_x * mean_y
        slope = xy / xx
        r2 = xy**2 / (xx * yy)
        error = np.sqrt(np.maximum(yy - slope * xy, 0.0) / (n - 2.0))
    intercept = mean_y + centre - slope * (mean_x + centre)
    fit = (n >= OVERLAP_DAYS_MIN) & (xx > _TINY) & (yy > _TINY)
    fit &= (r2 >= R2_MIN) & (slope >= SLOPE_MIN) & (slope <= SLOPE_MAX) & (error <= ERROR_C_MAX)
    fit[np.arange(len(block)), block] = False
    return slope, intercept, np.where(fit, error, np.inf)


def _regress(values: Floats, own: Floats, marks: Marks, error: Floats, line: tuple[Floats, ...]) -> None:
    """Fill one place in place, its best neighbour first."""
    slope, intercept, neighbour_error = line
    lowest, highest = np.nanmin(own) - BEYOND_C_MAX, np.nanmax(own) + BEYOND_C_MAX
    best = np.argsort(neighbour_error, kind="stable")[:NEIGHBOURS_MAX]
    for neighbour in best[np.isfinite(neighbour_error[best])]:
        told = values[neighbour]
        days = (marks == MISSING) & np.isfinite(told)
        own[days] = np.clip(slope[neighbour] * told[days] + intercept[neighbour], lowest, highest)
        error[days] = neighbour_error[neighbour]
        marks[days] = REGRESSED


def _bridge(own: Floats, marks: Marks) -> None:
    """Fill short gaps of one place in place, in a straight line between the days on either side."""
    missing = np.concatenate(([False], marks == MISSING, [False])).astype(np.int8)
    starts, ends = np.flatnonzero(np.diff(missing) == 1), np.flatnonzero(np.diff(missing) == -1)
    for start, end in zip(starts, ends, strict=True):
        if end - start <= BRIDGE_DAYS_MAX and start > 0 and end < len(own):
            own[start:end] = np.interp(np.arange(start, end), [start - 1, end], [own[start - 1], own[end]])
            marks[start:end] = BRIDGED
