"""Trees that the last rounds went past."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from server.records.queries import TreeRow
from server.reports.by_tree import ByTree
from server.reports.load import DAY_S, Collection
from server.reports.shapes import AlertItem
from server.wording.said import Day, capital, in_words, joined, say

Ints = NDArray[np.int64]

# A grower's settings; common practice, no published source.
ROUNDS_MISSED_MIN = 3
DAYS_MISSED_MIN = 10
ROUND_SHARE_MIN = 0.15
"""A day on which this share of the trees (and at least two) were seen counts as a round."""
LOOK_BACK_DAYS = 120.0


def unvisited(collection: Collection, seen: ByTree | None = None, last: Ints | None = None) -> list[AlertItem]:
    """Findings for trees that ROUNDS_MISSED_MIN rounds in a row did not see.

    `seen` are the late visits of all trees and `last` the day each was seen last, where they are known already.
    """
    rounds = _round_days(late_visits(collection) if seen is None else seen, len(collection.trees))
    last = last_seen(collection) if last is None else last
    missed = len(rounds) - np.searchsorted(rounds, last, side="right")
    found = []
    for row in np.flatnonzero(missed >= ROUNDS_MISSED_MIN):
        since = int(last[row]) if last[row] else int(rounds[0])
        if collection.on.toordinal() - since >= DAYS_MISSED_MIN:
            day = date.fromordinal(int(last[row])) if last[row] else None
            found.append(_item(collection, collection.trees[row], int(row), day, int(missed[row])))
    return found


def late_visits(collection: Collection, rows: Ints | None = None) -> ByTree:
    """Visits of the last LOOK_BACK_DAYS, by tree; `rows` are the trees' in the whole collection, if this is a part."""
    day = collection.visits.day
    late = np.isfinite(day) & (day > collection.until_s / DAY_S - LOOK_BACK_DAYS)
    row = np.nonzero(late)[0]
    nothing = np.zeros(len(row))
    tree = row if rows is None else rows[row]
    return ByTree(tree, collection.ordinals_of(day[late]), nothing.astype(np.int64), nothing)


def last_seen(collection: Collection) -> Ints:
    """Ordinal day of each tree's last visit; of one never seen the day it was started, 0 where that is not known."""
    table = collection.visits
    seen = table.count > 0
    last = np.zeros(len(table.count), dtype=np.int64)
    last[seen] = collection.ordinals_of(table.day[seen, table.count[seen] - 1])
    for row in np.flatnonzero(~seen):
        started = collection.trees[row].started_on
        last[row] = date.fromisoformat(started).toordinal() if started else 0
    return last


def _round_days(seen: ByTree, trees: int) -> Ints:
    """Ordinal days on which a fair share of the trees was seen, lately."""
    days, counts = np.unique(seen.day, return_counts=True)
    return days[counts >= max(2.0, ROUND_SHARE_MIN * trees)]


def _item(collection: Collection, tree: TreeRow, row: int, last: date | None, missed: int) -> AlertItem:
    never = not collection.visits.count[row]
    seen = say("Never seen on a round.") if never or last is None else say("Last seen on {on}.", on=Day(last))
    told = [seen, say("{rounds} rounds have gone past it since.", rounds=capital(in_words(missed)))]
    place = collection.place_now(tree)
    if place:
        told.append(say("It should stand in {place}.", place=place.place))
    return AlertItem(
        tag=tree.tag,
        tree=tree.id,
        kind="unvisited",
        level="watch",
        since=last.isoformat() if last else None,
        why=[joined(told)],
        advice=say("See it on the next round, or give it the standing retired if it is gone."),
    )
