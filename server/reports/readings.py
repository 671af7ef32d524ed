"""Temperatures read off in places, laid out as arrays by place and day."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from server.records.queries import ReadingRow

Floats = NDArray[np.float64]
Days = NDArray[np.datetime64]

OPEN_AIR = frozenset({"open", "ground", "shade"})
"""Covers under which a thermometer reads the open air."""


def reading_table(readings: list[ReadingRow], places: list[str], days: Days) -> tuple[Floats, Floats]:
    """Lay readings out as lowest and highest, °C, shape (places, days), NaN where there is none.

    `days` are consecutive. Several readings of one day give the lowest of their lows and the highest of their highs;
    where these contradict each other, the day counts as not read.
    """
    rows = {place: row for row, place in enumerate(places)}
    low, high = (np.full((len(places), len(days)), np.nan) for _ in range(2))
    first = date.fromisoformat(str(days[0].astype("datetime64[D]"))).toordinal()
    told = [
        (rows[reading.place], column, reading.t_min_c, reading.t_max_c)
        for reading in readings
        if reading.place in rows and 0 <= (column := date.fromisoformat(reading.date).toordinal() - first) < len(days)
    ]
    # As floats, None becomes NaN, which fmin and fmax pass over.
    table = np.array(told, dtype=float).reshape(-1, 4)
    at = table[:, 0].astype(np.int64), table[:, 1].astype(np.int64)
    np.fmin.at(low, at, table[:, 2])
    np.fmax.at(high, at, table[:, 3])
    crossed = low > high
    low[crossed], high[crossed] = np.nan, np.nan
    return low, high
