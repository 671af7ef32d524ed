"""Trees that the last rounds went past."""

from __future__ import annotations

from collections import Counter
from datetime import date

import numpy as np

from server.analysis.causes import day_words, number_words
from server.records.queries import TreeRow
from server.reports.load import Collection
from server.reports.shapes import AlertItem

# A grower's settings; common practice, no published source.
ROUNDS_MISSED_MIN = 3
DAYS_MISSED_MIN = 10
ROUND_SHARE_MIN = 0.15
"""A day on which this share of the trees (and at least two) were seen counts as a round."""
LOOK_BACK_DAYS = 120.0


def unvisited(collection: Collection) -> list[AlertItem]:
    """Findings for trees that ROUNDS_MISSED_MIN rounds in a row did not see."""
    rounds = _round_days(collection)
    found = []
    for row, tree in enumerate(collection.trees):
        last = _last_seen(collection, row, tree)
        missed = [day for day in rounds if last is None or day > last]
        waited = (collection.on - (last or (missed[0] if missed else collection.on))).days
        if len(missed) >= ROUNDS_MISSED_MIN and waited >= DAYS_MISSED_MIN:
            found.append(_item(collection, tree, row, last, len(missed)))
    return found


def _round_days(collection: Collection) -> list[date]:
    """Days on which a fair share of the trees was seen, lately."""
    day = collection.visits.day
    lately = day[np.isfinite(day) & (day > collection.until_s / 86_400.0 - LOOK_BACK_DAYS)]
    hours, seen = np.unique(np.floor(lately * 24.0), return_counts=True)
    counts: Counter[date] = Counter()
    for hour, trees in zip(hours, seen, strict=True):
        counts[collection.day_of(float(hour) / 24.0)] += int(trees)
    enough = max(2.0, ROUND_SHARE_MIN * len(collection.trees))
    return sorted(on for on, trees in counts.items() if trees >= enough)


def _last_seen(collection: Collection, row: int, tree: TreeRow) -> date | None:
    """Day of the last visit; a tree never seen counts from the day it was started, where that is known."""
    seen = int(collection.visits.count[row])
    if seen:
        return collection.day_of(float(collection.visits.day[row, seen - 1]))
    return date.fromisoformat(tree.started_on) if tree.started_on else None


def _item(collection: Collection, tree: TreeRow, row: int, last: date | None, missed: int) -> AlertItem:
    never = not collection.visits.count[row]
    words = "Never seen on a round." if never or last is None else f"Last seen on {day_words(last)}."
    place = collection.place_now(tree)
    where = f" It should stand in {place.place}." if place else ""
    return AlertItem(
        tag=tree.tag,
        tree=tree.id,
        kind="unvisited",
        level="watch",
        since=last.isoformat() if last else None,
        why=[f"{words} {number_words(missed).capitalize()} rounds have gone past it since.{where}"],
        advice="See it on the next round, or give it the standing retired if it is gone.",
    )
