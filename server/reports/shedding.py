"""Leaf fall that a whole place shares: noticed once for the place, no alarm for its trees."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

import numpy as np

from server.analysis.causes import SEASON_FACTOR, day_words
from server.analysis.common import LATELY_MOVED_DAYS
from server.reports.judge import Judged
from server.reports.shapes import Notice

PEERS_MIN = 4
"""So many trees of a place, seen on one day, make a common fall."""
CURRENT_DAYS = 10
"""A fall last seen longer ago than this is over, or nobody looked."""


def shedding_places(judged: Judged) -> list[Notice]:
    """Places whose settled trees all shed more than usual at their last visits."""
    found = []
    for place, days in _factor_by_day(judged).items():
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


def _factor_by_day(judged: Judged) -> dict[str, dict[date, float]]:
    """Middle factor of place and time, by place name and day, where enough settled trees were counted."""
    visits, drops, collection = judged.visits, judged.drops, judged.collection
    told = drops.exposure.counted & (visits.moved_ago > LATELY_MOVED_DAYS) & (visits.place >= 0)
    # Older visits cannot bear on what goes on now.
    told &= visits.day > collection.until_s / 86_400.0 - 90.0
    names = [place.place for place in collection.places.values()]
    values: dict[tuple[int, date], list[float]] = defaultdict(list)
    for row, j in zip(*np.nonzero(told), strict=True):
        key = (int(visits.place[row, j]), collection.day_of(float(visits.day[row, j])))
        values[key].append(float(drops.common.factor[row, j]))
    found: dict[str, dict[date, float]] = defaultdict(dict)
    for (place, day), factors in values.items():
        if len(factors) >= PEERS_MIN:
            found[names[place]][day] = float(np.median(factors))
    return found


def _notice(place: str, since: date, times: float, percent_a_day: float) -> Notice:
    words = (
        f"The trees in {place} together shed about {times:.0f} times the usual since {day_words(since)}, "
        f"{percent_a_day:.1f} % of their leaves a day."
    )
    return Notice("season", place, since.isoformat(), [words, "That is common to the place: no tree is to blame."])
