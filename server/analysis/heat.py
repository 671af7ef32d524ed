"""Heat and chill of places since the season's starts: degree-days, growing degree hours, chill units and hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from server.analysis.chill import chill_hours, growing_degree_hours, utah_chill_units
from server.analysis.degree_days import Counting
from server.analysis.gaps import Filled
from server.analysis.hourly import daily_sum
from server.analysis.sun import day_of_year, daylight_hours

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]

HEAT_START, HEAT_START_SOUTH = (1, 1), (7, 1)
CHILL_START, CHILL_START_SOUTH = (11, 1), (5, 1)
"""(month, day) from which the seasons' sums run; custom, no one source. South: latitudes below 0."""
SINGLE_SINE = Counting()
DAYLIGHT_UNKNOWN_H = 12.0
"""Where no latitude is known, hourly temperatures are drawn for a day of equal light and dark."""


@dataclass(frozen=True)
class Heat:
    """One place's sums over its days; `start` is the first day that counts towards degree-days, `chill_start` to chill.

    `days`: days in the degree-days; `gaps`: days from `start` on without a full reading of the place's own, of which
    `filled` were filled (from another place or the days around) and `missing` could not be. Chill days likewise.
    Degree-days in °C d; growing degree hours in °C h; NaN where no day is known. `chill_units` is the sum up to the
    last day, which warm weather lowers again; `chill_units_peak` the highest that it reached, never below 0, and
    `chill_peak_on` when: what a tree has had of winter by the time it wakes.
    """

    start: date
    degree_days: float
    growing_degree_hours: float
    days: int
    gaps: int
    filled: int
    missing: int
    chill_start: date
    chill_units: float
    chill_units_peak: float
    chill_peak_on: date
    chill_hours: float
    chill_days: int
    chill_missing: int


def season_start(on: date, latitude: float | None, north: tuple[int, int], south: tuple[int, int]) -> date:
    """The last (month, day) at or before `on`: `south` below the equator, else `north`; custom, no one source."""
    month, day = south if latitude is not None and latitude < 0.0 else north
    this_year = date(on.year, month, day)
    return this_year if this_year <= on else date(on.year - 1, month, day)


def place_heat(
    days: Days,
    filled: Filled,
    row: int,
    base_c: float,
    upper_c: float | None,
    latitude: float | None,
    counting: Counting = SINGLE_SINE,
) -> Heat:
    """Sum one place's heat and chill up to the last of `days`, consecutive, shape (days,); `filled` has (places, days).

    Degree-days as `counting` says, by single sine with a horizontal cutoff where it says nothing; hours after Linvill
    1990. Sums begin on the season's starts, or
    with the first day that is known where that is later. Days outside `days` don't count: give them from the chill's
    start on. Raises ValueError where `upper_c` is not above `base_c`.
    """
    on = _date(days[-1])
    heat_from = season_start(on, latitude, HEAT_START, HEAT_START_SOUTH)
    chill_from = season_start(on, latitude, CHILL_START, CHILL_START_SOUTH)
    known, recorded = filled.known[row], filled.recorded[row]
    heat_start, warm = _span(days, known, heat_from)
    chill_start, cold = _span(days, known, chill_from)
    low = np.where(known, filled.t_min[row], np.nan)
    high = np.where(known, filled.t_max[row], np.nan)
    light_h = DAYLIGHT_UNKNOWN_H if latitude is None else daylight_hours(day_of_year(days), latitude)
    units = daily_sum(low, high, light_h, utah_chill_units)[cold]
    peak, peak_on = _peak(days[cold], units, chill_start)
    return Heat(
        start=heat_start,
        degree_days=_total(counting.daily(low, high, base_c, upper_c)[warm]),
        growing_degree_hours=_total(daily_sum(low, high, light_h, growing_degree_hours)[warm]),
        days=int(known[warm].sum()),
        gaps=int((~recorded[warm]).sum()),
        filled=int((known & ~recorded)[warm].sum()),
        missing=int((~known[warm]).sum()),
        chill_start=chill_start,
        chill_units=_total(units),
        chill_units_peak=peak,
        chill_peak_on=peak_on,
        chill_hours=_total(daily_sum(low, high, light_h, chill_hours)[cold]),
        chill_days=int(known[cold].sum()),
        chill_missing=int((~known[cold]).sum()),
    )


def _span(days: Days, known: NDArray[np.bool_], start: date) -> tuple[date, slice]:
    """Days from a start, or from the first known day after it; an empty span, from the start, where none is known."""
    first = int(np.searchsorted(days, np.datetime64(start)))
    seen = np.flatnonzero(known[first:])
    if not len(seen):
        return start, slice(len(days), None)
    return _date(days[first + seen[0]]), slice(first + int(seen[0]), None)


def _peak(days: Days, units: Floats, start: date) -> tuple[float, date]:
    """The highest that a running sum reached and the first day on which it did; (0, start) where it never rose."""
    if not np.isfinite(units).any():
        return float("nan"), start
    running = np.nancumsum(units)
    best = int(running.argmax())
    return (float(running[best]), _date(days[best])) if running[best] > 0.0 else (0.0, start)


def _total(values: Floats) -> float:
    return float(np.nansum(values)) if np.isfinite(values).any() else float("nan")


def _date(day: np.datetime64) -> date:
    return date.fromisoformat(str(day.astype("datetime64[D]")))
