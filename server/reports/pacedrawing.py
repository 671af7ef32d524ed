"""A tree's season as it is drawn: what was counted, and the band of what trees like it would have, by day and heat."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from server.analysis.pace import Measured, Pace
from server.reports.growth import Growth
from server.reports.load import DAY_S, Collection
from server.reports.shapes import rounded

DRAWN_POINTS = 24


def drawings(
    collection: Collection, grown: Growth, measures: Mapping[str, tuple[Measured, Pace]], season: int
) -> dict[str, Any]:
    """Counts and band of each measure along a season, up to the report's day."""
    return {name: _drawing(collection, grown, *pair, season) for name, pair in measures.items()}


def _drawing(collection: Collection, grown: Growth, measured: Measured, found: Pace, season: int) -> dict[str, Any]:
    """Dots by day and heat, and the band from waking to the report's day; no band where nothing is expected."""
    mine = measured.season == season
    dots = [
        {"at": collection.day_of(float(day)).isoformat(), "heat": rounded(heat, 1), "seen": rounded(value, 1)}
        for day, heat, value in zip(measured.day[mine], measured.heat[mine], measured.value[mine], strict=True)
    ]
    start = float(grown.seasons.woke_day[season])
    if np.isnan(start) or np.isnan(found.middle[season]):
        return {"counts": dots, "band": []}
    # A moment before midnight still belongs to the report's own day.
    days = np.linspace(start, collection.until_s / DAY_S - 0.01, DRAWN_POINTS)
    heat = grown.warm.at(np.full(DRAWN_POINTS, grown.seasons.tree[season]), days)
    heat -= heat[0]
    band = [
        {"at": collection.day_of(float(day)).isoformat(), "heat": rounded(at, 1)}
        | {name: rounded(value, 1) for name, value in zip(("low", "middle", "high"), limits, strict=True)}
        for day, at, *limits in zip(days, heat, *found.band(season, heat), strict=True)
    ]
    return {"counts": dots, "band": band}
