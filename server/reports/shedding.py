"""Leaf fall that a whole place shares: noticed once for the place, no alarm for its trees."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from server.analysis.causes import SEASON_FACTOR
from server.analysis.common import LATELY_MOVED_DAYS
from server.reports.by_tree import ByTree
from server.reports.judge import Judged
from server.reports.load import DAY_S
from server.reports.shapes import Notice
from server.wording.said import Day, say

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
    counts = settled_counts(judged) if counts is None else counts
    last = _last_days(counts, judged.collection.on.toordinal() - CURRENT_DAYS)
    now = _middle_factors(counts, np.isin(counts.place * DAYS + counts.day, [p * DAYS + on for p, on in last.items()]))
    shedding = [place for place, on in last.items() if now[place, on] >= SEASON_FACTOR]
    before = _middle_factors(counts, np.isin(counts.place, shedding))
    names = [place.place for place in judged.collection.places.values()]
    found = []
    for place in shedding:
        since = last[place]
        for on in sorted((on for of, on in before if of == place), reverse=True):
            if before[place, on] < SEASON_FACTOR:
                break
            since = on
        times = before[place, last[place]]
        found.append(_notice(names[place], date.fromordinal(since), times, 100 * times * judged.drops.usual.mean))
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


def _last_days(counts: ByTree, earliest: int) -> dict[int, int]:
    """The last day, not before `earliest`, on which enough settled trees of a place were counted, by place."""
    late = counts.day >= earliest
    cells, seen = np.unique(counts.place[late] * DAYS + counts.day[late], return_counts=True)
    # In order of place and day, so that a place's last day is what stays.
    return {cell // DAYS: cell % DAYS for cell in cells[seen >= PEERS_MIN].tolist()}


def _middle_factors(counts: ByTree, wanted: NDArray[np.bool_]) -> dict[tuple[int, int], float]:
    """Middle factor by place and day, where enough settled trees were counted; only of the counts wanted."""
    key, value = counts.place[wanted] * DAYS + counts.day[wanted], counts.value[wanted]
    order = np.lexsort((value, key))
    value = value[order]
    cells, start, size = np.unique(key[order], return_index=True, return_counts=True)
    enough = size >= PEERS_MIN
    cells, start, size = cells[enough], start[enough], size[enough]
    middle = (value[start + size // 2] + value[start + (size - 1) // 2]) / 2.0
    return {(cell // DAYS, cell % DAYS): each for cell, each in zip(cells.tolist(), middle.tolist(), strict=True)}


def _notice(place: str, since: date, times: float, percent_a_day: float) -> Notice:
    words = say(
        "The trees in {place} together shed about {times:.0f} times the usual since {since},"
        " {percent_a_day:.1f} % of their leaves a day.",
        place=place,
        times=times,
        since=Day(since),
        percent_a_day=percent_a_day,
    )
    blame = say("That is common to the place: no tree is to blame.")
    return Notice("season", place, since.isoformat(), [words, blame])
