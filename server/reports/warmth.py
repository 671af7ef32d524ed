"""Heat that each tree stood in, added up along its places, whenever it is asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from server.analysis.degree_days import single_sine
from server.analysis.gaps import fill_gaps
from server.analysis.species import Species
from server.records import queries
from server.records.queries import ReadingRow
from server.reports.load import DAY_S, Collection
from server.reports.readings import reading_table

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Limits = tuple[float, float | None]

DD_A_DAY = 9.0
"""What stands for a day's heat where no temperature is known, °C days, so that days count instead; a setting."""
EPOCH = date(1970, 1, 1)
FILL_DAYS = 366
"""Gaps are filled a year at a time: one line between two places must hold for all of it."""
DAYS_MAX = 3700
"""Ten years back; what was before no longer bears on a tree's pace."""
TREE_KEY = 1.0e6
"""Larger than any day since 1970, so that tree and day make one ascending number."""


@dataclass(frozen=True)
class Temperatures:
    """Daily lowest and highest, °C, of shape (places, days) from `first_day` (days since 1970) on; NaN unknown."""

    first_day: int
    t_min: Floats
    t_max: Floats


@dataclass(frozen=True)
class Stays:
    """Where trees stood: one entry a stay, ordered by tree and beginning; `place` −1 unknown."""

    tree: Ints
    since_day: Floats
    place: Ints


def temperatures(collection: Collection) -> Temperatures:
    """Readings of the collection's places up to its day, gaps filled from neighbours; from the first visit on."""
    readings = [r for r in queries.readings(collection.on.isoformat()) if r.place in collection.places]
    last = (collection.on - EPOCH).days
    begins = min((_day(r) for r in readings), default=last)
    first = max(min(begins, _first_visit(collection, last)), last - DAYS_MAX)
    whole = np.arange(first, last + 1).astype("datetime64[D]")
    low, high = reading_table(readings, list(collection.places), whole)
    for start in range(0, low.shape[1], FILL_DAYS):
        days = slice(start, start + FILL_DAYS)
        if np.isfinite(low[:, days]).any() and np.isfinite(high[:, days]).any():
            filled = fill_gaps(low[:, days], high[:, days])
            low[:, days] = np.where(filled.known, filled.t_min, np.nan)
            high[:, days] = np.where(filled.known, filled.t_max, np.nan)
    return Temperatures(first, low, high)


def stays(collection: Collection) -> Stays:
    """Every tree's stays, the first from the beginning of time."""
    rows = {place: row for row, place in enumerate(collection.places)}
    found: list[tuple[int, float, int]] = []
    for number, tree in enumerate(collection.trees):
        found.append((number, 0.0, rows.get(tree.place or "", -1)))
        for move in collection.moves.get(tree.id, ()):
            found.append((number, move.at_s / DAY_S, rows.get(move.to_place, -1)))
    table = np.array(found, dtype=float).reshape(-1, 3)
    return Stays(table[:, 0].astype(np.int64), table[:, 1], table[:, 2].astype(np.int64))


def heat_sums(known: Temperatures, base_c: float, upper_c: float | None) -> Floats:
    """Degree-days before each day, shape (places + 1, days + 1); the last row stands for an unknown place.

    A day without a reading takes the mean of the other places, or DD_A_DAY where there is none.
    """
    daily = single_sine(known.t_min, known.t_max, base_c, upper_c)
    there = np.isfinite(daily)
    n = there.sum(axis=0)
    mean = np.where(n > 0, np.where(there, daily, 0.0).sum(axis=0) / np.maximum(n, 1), DD_A_DAY)
    daily = np.vstack([np.where(there, daily, mean), mean])
    return np.concatenate([np.zeros((len(daily), 1)), np.cumsum(daily, axis=1)], axis=1)


@dataclass(frozen=True)
class Warmth:
    """Heat that trees stood in since the first day known, by species' base; ask with `at`.

    `unread`: days so far without a reading in any place, before each day, shape (days + 1,).
    """

    stays: Stays
    first_day: int
    utc_offset_days: float
    sums: dict[Limits, Floats]
    kind: Ints
    carried: Floats
    unread: Floats

    def at(self, tree: Ints, day: Floats) -> Floats:
        """Degree-days of trees up to moments (days since 1970 UTC), arrays of one shape; 0 before anything is known."""
        stay = np.searchsorted(self._keys, tree * TREE_KEY + day, side="right") - 1
        return self.carried[stay] + self._sum(self.kind[tree], self.stays.place[stay], day)

    def guessed(self, since_day: Floats, until_day: float) -> Floats:
        """Days from moments to a later one without a reading anywhere, where DD_A_DAY stands in; NaN for NaN."""
        known = np.isfinite(since_day)
        columns = self._columns(np.append(np.where(known, since_day, until_day), until_day), len(self.unread))
        found = self.unread[columns]
        return np.where(known, found[-1] - found[:-1], np.nan)

    def _columns(self, day: Floats, most: int) -> Ints:
        """Columns of moments in sums by day, counted in the collection's own days."""
        columns = np.floor(day + self.utc_offset_days).astype(np.int64) - self.first_day
        return np.clip(columns, 0, most - 1)

    @property
    def _keys(self) -> Floats:
        keys: Floats = self.stays.tree * TREE_KEY + self.stays.since_day
        return keys

    def _sum(self, kind: Ints, place: Ints, day: Floats) -> Floats:
        """Degree-days of places up to moments."""
        column = self._columns(day, len(self.unread))
        out = np.zeros(len(day))
        for number, sums in enumerate(self.sums.values()):
            mine = kind == number
            out[mine] = sums[place[mine], column[mine]]
        return out


def warmth(collection: Collection, kinds: list[Species]) -> Warmth:
    """Add up the heat of every place for every base and upper limit that the trees' species have."""
    limits = _limits(kinds)
    known = temperatures(collection)
    noon = datetime.combine(collection.on, time(12), collection.zone)
    offset = (noon.utcoffset() or timedelta()).total_seconds() / DAY_S
    found = Warmth(
        stays=stays(collection),
        first_day=known.first_day,
        utc_offset_days=offset,
        sums={limit: heat_sums(known, *limit) for limit in dict.fromkeys(limits)},
        kind=np.zeros(0, dtype=np.int64),
        carried=np.zeros(0),
        unread=np.append(0.0, np.cumsum(~(np.isfinite(known.t_min) & np.isfinite(known.t_max)).any(axis=0))),
    )
    return warmth_of(collection, kinds, found)


def warmth_of(collection: Collection, kinds: list[Species], known: Warmth) -> Warmth:
    """Heat that some trees stood in, by the sums of all places that are known already, for all their kinds."""
    order = {limit: number for number, limit in enumerate(known.sums)}
    kind = np.array([order[limit] for limit in _limits(kinds)], dtype=np.int64)
    found = replace(known, stays=stays(collection), kind=kind)
    return replace(found, carried=_carried(found))


def _limits(kinds: list[Species]) -> list[Limits]:
    return [(species.get("base_c") or 0.0, species.get("upper_c")) for species in kinds]


def _carried(warm: Warmth) -> Floats:
    """What to add to a stay's place so that the heat goes on from the stay before, shape (stays,)."""
    held = warm.stays
    if not len(held.tree):
        return np.zeros(0)
    moved = np.flatnonzero(held.tree[1:] == held.tree[:-1]) + 1
    kind, day = warm.kind[held.tree[moved]], held.since_day[moved]
    steps = np.zeros(len(held.tree))
    steps[moved] = warm._sum(kind, held.place[moved - 1], day) - warm._sum(kind, held.place[moved], day)
    total = np.cumsum(steps)
    # A tree's first stay carries nothing; what was added up for the trees before it is taken off.
    first = np.searchsorted(held.tree, held.tree)
    carried: Floats = total - total[first]
    return carried


def _day(reading: ReadingRow) -> int:
    return (date.fromisoformat(reading.date) - EPOCH).days


def _first_visit(collection: Collection, last: int) -> int:
    day = collection.visits.day
    return int(np.nanmin(day)) - 1 if np.isfinite(day).any() else last
