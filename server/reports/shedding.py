"""Leaf fall that a whole place shares: noticed once for the place, no alarm for its trees."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

import numpy as np
from numpy.typing import NDArray

from server.analysis.causes import SEASON_FACTOR, day_words
from server.analysis.common import LATELY_MOVED_DAYS
from server.reports.by_tree import ByTree
from server.reports.judge import Judged
from server.reports.load import DAY_S
from server.reports.shapes import Notice

Ints = NDArray[np.int64]

PEERS_MIN = 4
"""So many trees of a place, seen on one day, make a common fall."""
CURRENT_DAYS = 10
"""A fall last seen longer ago than this is over, or nobody looked."""
LATE_DAYS = 90.0
DAYS = 10_000_000
"""More than any ordinal date, so that place and day make one number."""


def shedding_places(judged: Judged, counts: ByTree | None = None) -> list[Notice]:
    """Places whose settled trees all shed more than usual at their last visits; `counts` those of all trees."""
    found = []
    for place, days in _factor_by_day(judged, counts or settled_counts(judged)).items():
        ordered = sorted(days)
        last = ordered[-1]
        if days[last] < SEASON_FACTOR or (judged.collection.on - last).days > CURRENT_DAYS:
            continue
        since = last
        for day in reversed(ordered):
            if days[day] < SEASON_FACTOR:
                break
            since = day
        found.append(_notice(place, since, days[last], 100 * days[last] * judged.drops.usual.mean))
    return found


def settled_counts(judged: Judged, rows: Ints | None = None) -> ByTree:
    """The factor of place and time at the late counts of settled trees; `rows`: theirs, if these are a part."""
    visits, drops, collection = judged.visits, judged.drops, judged.collection
    told = drops.exposure.counted & (visits.moved_ago > LATELY_MOVED_DAYS) & (visits.place >= 0)
    # Older visits cannot bear on what goes on now.
    told &= visits.day > collection.until_s / DAY_S - LATE_DAYS
    row = np.nonzero(told)[0]
    tree = row if rows is None else rows[row]
    return ByTree(tree, collection.ordinals_of(visits.day[told]), visits.place[told], drops.common.factor[told])


def _factor_by_day(judged: Judged, counts: ByTree) -> dict[str, dict[date, float]]:
    """Middle factor of place and time, by place name and day, where enough settled trees were counted."""
    names = [place.place for place in judged.collection.places.values()]
    key = counts.place * DAYS + counts.day
    order = np.lexsort((counts.value, key))
    key, value = key[order], counts.value[order]
    cells, start, size = np.unique(key, return_index=True, return_counts=True)
    middle = (value[start + size // 2] + value[start + (size - 1) // 2]) / 2.0
    found: dict[str, dict[date, float]] = defaultdict(dict)
    enough = size >= PEERS_MIN
    for cell, factor in zip(cells[enough].tolist(), middle[enough].tolist(), strict=True):
        found[names[cell // DAYS]][date.fromordinal(cell % DAYS)] = factor
    return found


def _notice(place: str, since: date, times: float, percent_a_day: float) -> Notice:
    words = (
        f"The trees in {place} together shed about {times:.0f} times the usual since {day_words(since)}, "
        f"{percent_a_day:.1f} % of their leaves a day."
    )
    return Notice("season", place, since.isoformat(), [words, "That is common to the place: no tree is to blame."])
