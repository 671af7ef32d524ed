"""The health trend of every tree: leaves now, change a week, direction, health and its parts, a small series."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from server import ids
from server.analysis.health import Health, health
from server.records import queries
from server.reports.judge import Judged, judge
from server.reports.load import load
from server.reports.shapes import Mark, Report, SeriesPoint, TrendItem, plain, rounded

Floats = NDArray[np.float64]

DAMAGE_DAYS_MAX = 30.0
"""A damage figure older than this says nothing about today."""
PEAK_DAYS_MAX = 120.0
"""The most leaves of this season are looked for so far back."""
SERIES_POINTS_MAX = 60


def trends(on: date | None = None, tag: str | None = None) -> Report:
    """Every tree's trend up to the end of `on` (None: today), or that of the tree with one tag, former tags included.

    Raises BadTagCode and NotFound for a tag that no tree has.
    """
    only = queries.tree_by_tag(ids.read_tag_code(tag)) if tag is not None else None
    return trend_report(judge(load(on)), with_series=True, only=only)


def middle_change(judged: Judged) -> float:
    """Change in percent a week of the middle tree; NaN where none is known."""
    change = judged.trends.change
    return float(np.nanmedian(change)) if np.isfinite(change).any() else float("nan")


def trend_report(judged: Judged, with_series: bool, only: str | None = None, peers: float | None = None) -> Report:
    """Lay the trends out as items; `only` picks one tree by its record id.

    `peers`: the change of the middle tree of all, where those that were judged are a part.
    """
    peers = middle_change(judged) if peers is None else peers
    items = [
        _item(judged, row, peers, with_series)
        for row, tree in enumerate(judged.collection.trees)
        if only is None or tree.id == only
    ]
    return Report(judged.collection.on, items)


def _item(judged: Judged, row: int, peers: float, with_series: bool) -> TrendItem:
    found, tree = judged.trends, judged.collection.trees[row]
    state = health_of(judged, row, peers)
    return TrendItem(
        tag=tree.tag,
        tree=tree.id,
        leaves=rounded(found.leaves[row], 1),
        leaves_low=rounded(found.leaves_low[row], 1),
        leaves_high=rounded(found.leaves_high[row], 1),
        change_percent_per_week=rounded(found.change[row], 2),
        change_low=rounded(found.change_low[row], 2),
        change_high=rounded(found.change_high[row], 2),
        direction=found.direction[row],
        health=state.score if state else None,
        health_parts=[plain(part) for part in state.parts] if state else [],
        series=_series(judged, row) if with_series else None,
        marks=_marks(judged, row) if with_series else None,
    )


def health_of(judged: Judged, row: int, peers: float) -> Health | None:
    """A tree's health today; `peers`: the change of the middle tree, percent a week."""
    table = judged.collection.visits
    day, damage = table.day[row], table.counted["damage_percent"][row]
    today = judged.collection.until_s / 86_400.0
    noted = np.flatnonzero(np.isfinite(damage) & (day > today - DAMAGE_DAYS_MAX))
    smooth = judged.trends.smooth[row]
    this_season = smooth[np.isfinite(smooth) & (day > today - PEAK_DAYS_MAX)]
    return health(
        float(judged.trends.leaves[row]),
        float(this_season.max()) if len(this_season) else None,
        float(judged.trends.change[row]),
        peers,
        float(damage[noted[-1]]) if len(noted) else None,
    )


def _series(judged: Judged, row: int) -> list[SeriesPoint]:
    """The tree's last counts with the band of the smoothed trend."""
    at = np.flatnonzero(np.isfinite(judged.totals[row]))[-SERIES_POINTS_MAX:]
    day, found = judged.collection.visits.day[row], judged.trends
    return [
        SeriesPoint(
            at=judged.collection.day_of(float(day[j])).isoformat(),
            leaves=rounded(judged.totals[row, j], 1),
            low=rounded(found.smooth_low[row, j], 1),
            high=rounded(found.smooth_high[row, j], 1),
        )
        for j in at
    ]


def _marks(judged: Judged, row: int) -> list[Mark]:
    """Moves and work, in the order of time."""
    collection = judged.collection
    tree = collection.trees[row]
    moves = [
        (move.at_s, Mark(_day(judged, move.at_s), collection.places[move.to_place].place, "move"))
        for move in collection.moves.get(tree.id, [])
        if move.to_place in collection.places
    ]
    works = [(w.at_s, Mark(_day(judged, w.at_s), w.task, "work")) for w in collection.works.get(tree.id, [])]
    return [mark for _, mark in sorted(moves + works, key=lambda pair: pair[0])]


def _day(judged: Judged, at_s: int) -> str:
    return judged.collection.day_of(at_s / 86_400.0).isoformat()
