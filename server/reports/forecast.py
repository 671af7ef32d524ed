"""The nights and days ahead in each place: readings dated ahead, and for places without, what their neighbours tell."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from math import inf

import numpy as np
from numpy.typing import NDArray

from server.analysis.cold import FORECAST_DAYS_MAX, Night, nights_ahead
from server.analysis.gaps import BRIDGED, RECORDED, REGRESSED, Filled, fill_gaps
from server.records import queries
from server.reports.load import LAST_DAY, Collection
from server.reports.readings import OPEN_AIR, reading_table

HISTORY_DAYS = 180
"""Days back from which the difference between two places is learned."""
ELSEWHERE_ERROR_C = 2.0
"""How far the forecast for another place in the open may be off, where no reading tells how the two differ.

A grower's setting: cold hollows lie about this much below the ground around them on clear nights.
"""


@dataclass(frozen=True)
class Forecast:
    """What is forecast, by the id of a place.

    `nights` in order; `days`: the low of the night that follows a day and the day's highest (inf: unknown), °C.
    """

    nights: dict[str, list[Night]] = field(default_factory=dict)
    days: dict[str, dict[date, tuple[float, float]]] = field(default_factory=dict)


def forecast(collection: Collection) -> Forecast:
    """What readings dated after the collection's day tell of each place, up to 16 days ahead."""
    first = collection.on - timedelta(days=HISTORY_DAYS)
    last = min(collection.on + timedelta(days=FORECAST_DAYS_MAX), LAST_DAY)
    readings = queries.readings(last.isoformat(), first.isoformat())
    today = collection.on.isoformat()
    if not any(each.date > today and each.place in collection.places for each in readings):
        return Forecast()
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    filled = fill_gaps(*reading_table(readings, list(collection.places), days))
    lows, errors = _lows(collection, filled)
    highs = np.where(filled.max_from == BRIDGED, np.nan, filled.t_max)
    dates = [first + timedelta(days=number) for number in range(len(days))]
    found = Forecast()
    for row, place in enumerate(collection.places):
        rows = [(on, _known(lows[row, n]), _known(highs[row, n])) for n, on in enumerate(dates)]
        error = dict(zip(dates, errors[row].tolist(), strict=True))
        nights = nights_ahead(collection.on, rows)
        found.nights[place] = [replace(night, error_c=error[night.on + timedelta(days=1)]) for night in nights]
        found.days[place] = {n.on: (n.low_c, n.high_before_c if n.high_before_c is not None else inf) for n in nights}
    return found


def _lows(collection: Collection, filled: Filled) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lowest temperatures of shape (places, days) and how far each may be off, °C.

    A straight line between two days is no forecast. A place in the open that nothing is known of takes the lowest that
    is forecast for any other in the open.
    """
    lows = np.where(filled.min_from == BRIDGED, np.nan, filled.t_min)
    errors = np.where(filled.min_from == REGRESSED, filled.min_error_c, 0.0)
    outside = np.array([place.cover in OPEN_AIR for place in collection.places.values()], dtype=bool)
    told = np.where((filled.min_from == RECORDED) & outside[:, None], filled.t_min, np.inf).min(axis=0)
    borrowed = np.isnan(lows) & outside[:, None] & np.isfinite(told)
    return np.where(borrowed, told, lows), np.where(borrowed, ELSEWHERE_ERROR_C, errors)


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
