"""Temperatures read off in places, laid out as arrays by place and day."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from server.records.queries import ReadingRow

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]


def reading_table(readings: list[ReadingRow], places: list[str], days: Days) -> tuple[Floats, Floats]:
    """Lay readings out as lowest and highest, °C, shape (places, days), NaN where there is none.

    Several readings of one day give the lowest of their lows and the highest of their highs; where these contradict
    each other, the day counts as not read.
    """
    rows = {place: row for row, place in enumerate(places)}
    low, high = np.full((len(places), len(days)), np.nan), np.full((len(places), len(days)), np.nan)
    first = days[0].astype("datetime64[D]").astype(int)
    for reading in readings:
        row = rows.get(reading.place)
        column = int(np.datetime64(reading.date, "D").astype(int) - first)
        if row is None or not 0 <= column < len(days):
            continue
        if reading.t_min_c is not None:
            low[row, column] = np.fmin(low[row, column], reading.t_min_c)
        if reading.t_max_c is not None:
            high[row, column] = np.fmax(high[row, column], reading.t_max_c)
    crossed = low > high
    low[crossed], high[crossed] = np.nan, np.nan
    return low, high
