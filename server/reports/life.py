"""A tree's life beside what its card shows: health from visit to visit, its place among companions, who noted what."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.health import health
from server.analysis.leaves import leaves_of
from server.analysis.trend import percent_a_week
from server.reports.judge import Judged
from server.reports.load import DAY_S
from server.reports.shapes import rounded
from server.reports.trends import DAMAGE_DAYS_MAX, PEAK_DAYS_MAX, health_of, middle_change

Floats = NDArray[np.float64]

PEERS_DAYS_MAX = 21.0
"""A tree seen so long before a moment still counts among the others of that moment."""
COMPANIONS_MIN = 4
"""Fewer trees of its species in its place are no company; then all of its species are."""
HEALTH_POINTS_MAX = 400


@dataclass(frozen=True)
class HealthPoint:
    """Health as it would have been told at a visit: the day, 0-100."""

    at: str
    health: float


@dataclass(frozen=True)
class Rank:
    """Where a tree stands among its companions: 1 is the most; `middle` is the value of the middle tree."""

    measure: str
    value: float
    middle: float
    rank: int
    of: int


@dataclass(frozen=True)
class Companions:
    """The trees that one is held against: those of its species in its place, or (`place` None) in the collection."""

    species: str | None
    place: str | None
    trees: int
    ranks: list[Rank]


def health_series(judged: Judged, row: int) -> list[HealthPoint]:
    """Health at each count of leaves, by what was known then; the last is the figure of today's trend."""
    day = judged.collection.visits.day[row]
    at = np.flatnonzero(np.isfinite(judged.totals[row]))[-HEALTH_POINTS_MAX:]
    points = []
    for j in at:
        told = _health_then(judged, row, int(j))
        if told is not None:
            points.append(HealthPoint(judged.collection.day_of(float(day[j])).isoformat(), told))
    now = health_of(judged, row, middle_change(judged))
    if points and now is not None:
        points[-1] = HealthPoint(points[-1].at, now.score)
    return points


def _health_then(judged: Judged, row: int, j: int) -> float | None:
    """By the filtered trend, which looks back alone."""
    track, table = judged.trends.track, judged.collection.visits
    day = table.day[row, : j + 1]
    level = track.level[: j + 1, row]
    recent = level[np.isfinite(level) & (day > day[j] - PEAK_DAYS_MAX)]
    damage = table.counted["damage_percent"][row, : j + 1]
    noted = np.flatnonzero(np.isfinite(damage) & (day > day[j] - DAMAGE_DAYS_MAX))
    own, others = percent_a_week(np.array([track.slope[j, row], _middle_slope(judged, float(day[j]))])).tolist()
    told = health(
        float(leaves_of(level[j])),
        float(leaves_of(recent.max())) if len(recent) else None,
        own,
        others,
        float(damage[noted[-1]]) if len(noted) else None,
    )
    return told.score if told else None


def _middle_slope(judged: Judged, moment: float) -> float:
    """The slope of the middle tree of those seen lately before a moment; NaN where there is none."""
    day, slope = judged.collection.visits.day, judged.trends.track.slope
    last = (day <= moment).sum(axis=1) - 1
    rows = np.flatnonzero(last >= 0)
    fresh = rows[day[rows, last[rows]] > moment - PEERS_DAYS_MAX]
    slopes = slope[last[fresh], fresh]
    slopes = slopes[np.isfinite(slopes)]
    return float(np.median(slopes)) if len(slopes) else float("nan")


def companions(judged: Judged, row: int) -> Companions:
    """Where a tree stands among the trees of its species: in its place where enough are, else in the collection."""
    collection = judged.collection
    tree, place = collection.trees[row], collection.place_now(collection.trees[row])
    kin = [at for at, other in enumerate(collection.trees) if other.species == tree.species]
    near = [at for at in kin if place is not None and collection.place_now(collection.trees[at]) == place]
    chosen = near if len(near) >= COMPANIONS_MIN else kin
    named = place.place if place is not None and chosen is near else None
    ranks = [_rank(name, values, chosen.index(row)) for name, values in _measures(judged, chosen)]
    return Companions(tree.species, named, len(chosen), [rank for rank in ranks if rank is not None])


def _measures(judged: Judged, rows: list[int]) -> Iterable[tuple[str, Floats]]:
    peers = middle_change(judged)
    scores = [health_of(judged, row, peers) for row in rows]
    yield "health", np.array([score.score if score else np.nan for score in scores])
    yield "leaves", judged.trends.leaves[rows]
    yield "change_percent_per_week", judged.trends.change[rows]
    day, grown = judged.collection.visits.day[rows], judged.collection.visits.counted["shoot_cm"][rows]
    this_season = day > judged.collection.until_s / DAY_S - PEAK_DAYS_MAX
    yield "shoot_cm", np.fmax.reduce(np.where(this_season, grown, np.nan), axis=1, initial=np.nan)


def _rank(measure: str, values: Floats, own: int) -> Rank | None:
    known = values[np.isfinite(values)]
    if not np.isfinite(values[own]) or len(known) < COMPANIONS_MIN:
        return None
    return Rank(
        measure,
        rounded(values[own], 1) or 0.0,
        rounded(float(np.median(known)), 1) or 0.0,
        int((known > values[own]).sum()) + 1,
        len(known),
    )
