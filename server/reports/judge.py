"""The one pass over the collection that trends and alerts share: arrays in, trend and leaf-drop test out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis import light
from server.analysis.counts import Visits
from server.analysis.dropfilter import picked
from server.analysis.leafdrop import DropResult, find_again, find_leaf_drop
from server.analysis.shoots import LeafCounts, count_leaves
from server.analysis.trend import Trends, leaf_trends
from server.records.queries import MoveRow, PlaceRow, TreeRow
from server.reports.load import DAY_S, Collection

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOVE_WEIGHT_UNKNOWN = 1.0
MOVE_WEIGHT_MIN, MOVE_WEIGHT_MAX = 0.3, 1.6
"""How hard a move bears on a tree, from carried into shade to carried from the dark into the open."""


@dataclass(frozen=True)
class Judged:
    """The collection with what the analysis says about it; rows follow `collection.trees`.

    `turnover_a_day`: at what pace marked shoots part from each other, as all of them told (shoots.py).
    """

    collection: Collection
    totals: Floats
    visits: Visits
    trends: Trends
    drops: DropResult
    turnover_a_day: float

    def last_visit(self, row: int) -> int:
        """Index of a tree's last visit; −1 where it was never seen."""
        return int(self.collection.visits.count[row]) - 1


Former = tuple[Judged, Ints, Ints]
"""Trees as they were judged before: where, their rows there, and their rows in the whole collection."""


def judge(collection: Collection) -> Judged:
    """Run the trend and the leaf-drop test over every tree."""
    found, visits = _seen(collection)
    trends = leaf_trends(visits.day, found.log_leaves, found.log_var, sampling=found.sampling)
    drops = find_leaf_drop(visits, trends.steady)
    return Judged(collection, found.total, visits, trends, drops, found.turnover_a_day)


def judge_again(part: Collection, rows: Ints, learned: Judged, former: Iterable[Former]) -> Judged | None:
    """Judge some trees again by what was learned of all; `rows` are theirs in the collection that was `learned` from.

    `former` holds what was known of them; the sums over all trees are changed accordingly. None where that can't be
    done: days or places that nobody knew.
    """
    found, visits = _seen(part, learned.turnover_a_day)
    if not learned.drops.learned.covers(visits):
        return None
    trends = leaf_trends(visits.day, found.log_leaves, found.log_var, learned.trends.variances, found.sampling)
    told = [(of, picked(was.visits, own), picked(was.drops.exposure, own)) for was, own, of in former]
    drops = find_again(visits, trends.steady, learned.drops.learned, rows, told)
    return Judged(part, found.total, visits, trends, drops, found.turnover_a_day)


def _seen(collection: Collection, turnover_a_day: float | None = None) -> tuple[LeafCounts, Visits]:
    """What was counted, and every visit as the leaf-drop test takes it; the turnover is learned where not given."""
    table = collection.visits
    counted = table.counted
    numbers = counted["leaves"], counted["shoots"], counted["leaves_per_shoot"]
    found = count_leaves(table.day, numbers, table.marked, turnover_a_day)
    place, moved_ago, moved_weight = _whereabouts(collection)
    visits = Visits(
        day=table.day,
        log_leaves=found.log_leaves,
        log_var=found.log_var,
        fallen=counted["leaves_fallen"],
        place=place,
        moved_ago=moved_ago,
        moved_weight=moved_weight,
    )
    return found, visits


def light_percent(place: PlaceRow | None) -> float | None:
    """Light that reaches a place, percent of the open sky: its own figure, else that of its cover."""
    return None if place is None else light.light_percent(place.cover, place.light_percent)


def _whereabouts(collection: Collection) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Place index, days since the last move and its weight at every visit, each of shape (trees, visits)."""
    day = collection.visits.day
    index = {place: number for number, place in enumerate(collection.places)}
    start = np.array([index.get(tree.place or "", -1) for tree in collection.trees], dtype=np.int64)
    place = np.repeat(start[:, None], day.shape[1], axis=1)
    moved_ago, weight = np.full(day.shape, np.inf), np.ones(day.shape)
    for row, tree in enumerate(collection.trees):
        moves = collection.moves.get(tree.id)
        seen = int(collection.visits.count[row])
        if not moves or not seen:
            continue
        moved_day = np.array([move.at_s for move in moves]) / DAY_S
        made = np.searchsorted(moved_day, day[row, :seen], side="right")
        stood = np.array([start[row], *(index.get(move.to_place, -1) for move in moves)])
        place[row, :seen] = stood[made]
        moved = np.flatnonzero(made)
        moved_ago[row, moved] = day[row, moved] - moved_day[made[moved] - 1]
        weights = np.array([move_weight(collection, tree, moves, n) for n in range(len(moves))])
        weight[row, moved] = weights[made[moved] - 1]
    return place, moved_ago, weight


def move_weight(collection: Collection, tree: TreeRow, moves: list[MoveRow], number: int) -> float:
    """Weigh a tree's move by its step in light; 0 where it stayed in its place."""
    before = moves[number - 1].to_place if number else tree.place
    if before == moves[number].to_place:
        return 0.0
    come_from = light_percent(collection.places.get(before or ""))
    gone_to = light_percent(collection.places.get(moves[number].to_place))
    if come_from is None or gone_to is None:
        return MOVE_WEIGHT_UNKNOWN
    return float(np.clip(1.0 + (gone_to - come_from) / 100.0, MOVE_WEIGHT_MIN, MOVE_WEIGHT_MAX))
