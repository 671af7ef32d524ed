"""A tree's season as it is drawn: what was counted, and the band of what trees like it would have, by day and heat."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.analysis.pace import Measured, Pace
from server.reports.growth import Growth
from server.reports.load import DAY_S, Collection
from server.reports.shapes import rounded

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

DRAWN_POINTS = 24


def drawings(
    collection: Collection, grown: Growth, measures: Mapping[str, tuple[Measured, Pace]], season: int
) -> dict[str, Any]:
    """Counts and band of each measure along a season, up to the report's day."""
    return {name: _drawing(collection, grown, *pair, season) for name, pair in measures.items()}


def _drawing(collection: Collection, grown: Growth, measured: Measured, found: Pace, season: int) -> dict[str, Any]:
    """Dots by day and heat, and the band at them and from waking on; no band where nothing is expected."""
    mine = measured.season == season
    day, heat, value = measured.day[mine], measured.heat[mine], measured.value[mine]
    dots = [{"seen": rounded(seen, 1)} for seen in value]
    start = float(grown.seasons.woke_day[season])
    if np.isnan(start) or np.isnan(found.middle[season]):
        return {"counts": _along(collection, day, heat, dots), "band": []}
    # A moment before midnight still belongs to the report's own day.
    days = np.linspace(start, collection.until_s / DAY_S - 0.01, DRAWN_POINTS)
    along = grown.warm.at(np.full(DRAWN_POINTS, grown.seasons.tree[season]), days)
    along -= along[0]
    few = np.full(DRAWN_POINTS, measured.sampled[mine][-1])
    counts = [
        dot | limits for dot, limits in zip(dots, _limits(found, season, heat, measured.sampled[mine]), strict=True)
    ]
    return {
        "counts": _along(collection, day, heat, counts),
        "band": _along(collection, days, along, _limits(found, season, along, few)),
    }


def _along(collection: Collection, day: Floats, heat: Floats, told: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put day and heat before what is told there."""
    places = zip(day, heat, told, strict=True)
    return [{"at": collection.day_of(float(d)).isoformat(), "heat": rounded(h, 1), **more} for d, h, more in places]


def _limits(found: Pace, season: int, heat: Floats, sampled: Bools) -> list[dict[str, float | None]]:
    """Low, middle and high of what a count, of few shoots or all, is expected to be along heat."""
    names = ("low", "middle", "high")
    return [
        {name: rounded(value, 1) for name, value in zip(names, limits, strict=True)}
        for limits in zip(*found.band(season, heat, sampled), strict=True)
    ]
