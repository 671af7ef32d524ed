"""The collection as the reports look at it: cards, and the visits of all trees as arrays, up to the day asked for."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from itertools import groupby
from operator import itemgetter
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from server import ids
from server.analysis.shoots import MarkedShoots
from server.errors import Refused
from server.records import queries
from server.records.queries import HarvestRow, MoveRow, PlaceRow, TreeRow, WorkRow
from server.wording.said import say

Floats = NDArray[np.float64]
Row = TypeVar("Row", MoveRow, WorkRow, HarvestRow)

DAY_S = 86_400.0
QUARTERS_A_DAY = 96.0
# No entry is older or newer than these days allow.
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2199, 12, 31)
# The numbers of a visit that reports compute with, in the order of the table's layers.
COUNTED = (
    *("shoots", "leaves_per_shoot", "leaves", "leaves_fallen", "shoot_cm"),
    *("fruit_breba", "fruit_main", "damage_percent", "bbch"),
)


@dataclass(frozen=True)
class VisitTable:
    """All visits of all trees, shape (trees, visits), padded at the right with NaN.

    `day` is days since 1970-01-01 UTC, increasing; `counted[name]` the numbers of COUNTED, NaN where not recorded;
    `count` how many visits each tree has, shape (trees,). `marked`: the leaves on marked shoots; their mean stands for
    the leaves a shoot where those were not given.
    """

    day: Floats
    counted: dict[str, Floats]
    count: NDArray[np.int64]
    marked: MarkedShoots | None = None


@dataclass(frozen=True)
class Collection:
    """What is known up to the end of a day; withdrawn trees are left out, retired ones unless asked for."""

    on: date
    zone: ZoneInfo
    until_s: int
    trees: list[TreeRow]
    places: dict[str, PlaceRow]
    visits: VisitTable
    moves: dict[str, list[MoveRow]]
    works: dict[str, list[WorkRow]]
    rows: dict[str, int] = field(default_factory=dict)
    harvests: dict[str, list[HarvestRow]] = field(default_factory=dict)

    def place_at(self, tree: TreeRow, at_s: float) -> str | None:
        """The id of the place where a tree stood at a moment (seconds since 1970); None where that is unknown."""
        moves = self.moves.get(tree.id, [])
        made = bisect_right([move.at_s for move in moves], at_s)
        return moves[made - 1].to_place if made else tree.place

    def place_now(self, tree: TreeRow) -> PlaceRow | None:
        """Where a tree stands at the end of the day."""
        return self.places.get(self.place_at(tree, self.until_s) or "")

    def day_of(self, day: float) -> date:
        """The collection's calendar day of a moment given in days since 1970."""
        return datetime.fromtimestamp(day * DAY_S, self.zone).date()

    def ordinals_of(self, day: Floats) -> NDArray[np.int64]:
        """Ordinal calendar days of many moments, asked once for each quarter of an hour, in which no day begins."""
        quarters, inverse = np.unique(np.floor(day * QUARTERS_A_DAY), return_inverse=True)
        ordinals = [self.day_of(float(quarter) / QUARTERS_A_DAY).toordinal() for quarter in quarters]
        return np.array(ordinals, dtype=np.int64)[inverse.reshape(day.shape)]


def today() -> date:
    """The present day in the collection's time zone."""
    return ids.now().astimezone(queries.time_zone()).date()


def day_asked(on: date | None) -> date:
    """The day that a report is asked for, None meaning today. Raises Refused for a day out of reach."""
    on = on or today()
    if not FIRST_DAY <= on <= LAST_DAY:
        told = say("Reports reach from {first} to {last}, not to {asked}.", first=FIRST_DAY, last=LAST_DAY, asked=on)
        raise Refused.of("on", told)
    return on


def end_of(day: date, zone: ZoneInfo) -> int:
    """The first moment after a day, in seconds since 1970."""
    return int(datetime.combine(day + timedelta(days=1), time(), zone).timestamp())


def load(on: date | None = None, include_retired: bool = False) -> Collection:
    """Read what the reports need, up to the end of `on` (None: today). Raises Refused for a day out of reach."""
    zone = queries.time_zone()
    on = day_asked(on)
    places = {place.id: place for place in queries.places()}
    return _collected(on, zone, places, queries.trees(include_retired), None)


def load_part(whole: Collection, trees: Sequence[str]) -> Collection:
    """Read some trees of a collection again, by their record ids; its day and its places stand."""
    return _collected(whole.on, whole.zone, whole.places, queries.trees(only=trees), trees)


def _collected(
    on: date, zone: ZoneInfo, places: dict[str, PlaceRow], trees: list[TreeRow], only: Sequence[str] | None
) -> Collection:
    """Read the facts of some trees; `only` are their ids, None where they are all."""
    until_s = end_of(on, zone)
    rows = {tree.id: row for row, tree in enumerate(trees)}
    table = visit_table(queries.visit_numbers(until_s, COUNTED, only), rows)
    return Collection(
        on=on,
        zone=zone,
        until_s=until_s,
        trees=trees,
        places=places,
        visits=with_marked(table, queries.marked_counts(until_s, only), rows),
        moves=_by_tree(queries.moves(until_s, only)),
        works=_by_tree(queries.works(until_s, only)),
        rows=rows,
        harvests=_by_tree(queries.harvests(until_s, only)),
    )


def visit_table(numbers: Iterable[tuple[Any, ...]], rows: dict[str, int]) -> VisitTable:
    """Lay visits (tree, at_s, numbers of COUNTED …), ordered by tree and time, out as arrays."""
    kept = [
        (rows[tree], np.array([visit[1:] for visit in group], dtype=float))
        for tree, group in groupby(numbers, key=itemgetter(0))
        if tree in rows
    ]
    # At least one column, so that a collection in which nothing was seen yet needs no case of its own.
    width = max((len(group) for _, group in kept), default=1)
    table = np.full((1 + len(COUNTED), len(rows), width), np.nan)
    count = np.zeros(len(rows), dtype=np.int64)
    for row, group in kept:
        table[:, row, : len(group)] = group.T
        count[row] = len(group)
    return VisitTable(table[0] / DAY_S, dict(zip(COUNTED, table[1:], strict=True)), count)


def with_marked(table: VisitTable, counts: Iterable[tuple[str, int, str]], rows: dict[str, int]) -> VisitTable:
    """Lay the counts of marked shoots (tree, at_s, counts), ordered by tree and time, beside the visits."""
    found = [(rows[tree], at_s, text.split(";")) for tree, at_s, text in counts if tree in rows]
    if not found:
        return table
    trees = np.unique([row for row, _, _ in found])
    marked = np.full((len(trees), table.day.shape[1], max(len(parts) for _, _, parts in found)), np.nan)
    taken: set[tuple[int, int]] = set()
    for row, at_s, parts in found:
        visit = int(np.searchsorted(table.day[row, : table.count[row]], at_s / DAY_S))
        # Of two visits in one second either may hold the counts.
        while (row, visit) in taken:
            visit += 1
        taken.add((row, visit))
        marked[np.searchsorted(trees, row), visit, : len(parts)] = [float(part) if part else np.nan for part in parts]
    there = np.isfinite(marked)
    mean = np.where(there, marked, 0.0).sum(axis=2) / np.where(there.any(axis=2), there.sum(axis=2), np.nan)
    per_shoot = table.counted["leaves_per_shoot"]
    per_shoot[trees] = np.where(np.isnan(per_shoot[trees]), mean, per_shoot[trees])
    return replace(table, marked=MarkedShoots(trees, marked))


def _by_tree(facts: list[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for fact in facts:
        found[fact.tree].append(fact)
    return dict(found)
