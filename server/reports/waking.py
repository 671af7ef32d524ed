"""When every tree woke, year by year, and when it was pruned: the seasons that its growth is told by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.species import Species
from server.records.queries import PlaceRow
from server.reports.load import DAY_S, Collection
from server.reports.warmth import TREE_KEY

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Words = NDArray[np.object_]

# Extended BBCH (Singh et al. 2023 for fig): 07 buds far advanced; general scale: 93 leaves begin to fall.
WAKES_BBCH, FALLS_BBCH = 7, 93
WOKE_LEAVES_MAX = 2.0
"""A deciduous tree first seen in leaf was seen to wake only if it has no more leaves a shoot than this."""
ASLEEP_DAYS_MAX = 21.0
"""… or if it was seen asleep no longer than this before."""
SHAPING_TASKS = ("prune", "rejuvenate", "pinch")
"""After these a season's shoots can no longer be compared. Common practice, no published source."""
SLEEP_DAYS = 45.0
"""A deciduous tree not seen awake for so long has slept: what comes then is another season; a grower's setting."""
HALF_YEAR_DAYS = 184


Middles = dict[tuple[str, int], float]
"""The middle day on which the trees of a kind woke in a growing year."""


@dataclass(frozen=True)
class Seasons:
    """Growing seasons, one entry each, of shape (seasons,): `tree` row, `woke_day` (days since 1970).

    `woke_seen`: it was noted; else the middle day of its kind stands in. `shaped_day`: when it was pruned, NaN never.
    `now`: each tree's present season, −1 none, shape (trees,). `middles`: what stands in, by kind and growing year.
    """

    tree: Ints
    woke_day: Floats
    woke_seen: Bools
    shaped_day: Floats
    now: Ints
    middles: Middles


@dataclass(frozen=True)
class Visits:
    """All visits one after the other, by tree and time: their season, whether the tree was awake, and in leaf.

    `first` is the index of each season's first visit, shape (seasons,).
    """

    tree: Ints
    day: Floats
    season: Ints
    awake: Bools
    in_leaf: Bools
    first: Ints
    counted: dict[str, Floats]


def is_south(places: Iterable[PlaceRow]) -> bool:
    """Whether a collection lies south of the equator, by most of its places that say so."""
    known = [place.latitude for place in places if place.latitude is not None]
    return bool(known) and float(np.median(known)) < 0.0


def month_as_north(month: int, south: bool) -> int:
    """The month in which the north is as far in its growing year."""
    return (month + 5) % 12 + 1 if south else month


def year_of(day: Floats, south: bool) -> Ints:
    """The growing year of days since 1970: from January in the north, from July in the south."""
    shifted = np.floor(day + (HALF_YEAR_DAYS if south else 0)).astype("datetime64[D]")
    return shifted.astype("datetime64[Y]").astype(np.int64) + 1970


def year_start(year: Ints, south: bool) -> Floats:
    """The first day (days since 1970) of growing years."""
    start: Floats = (year - 1970).astype("datetime64[Y]").astype("datetime64[D]").astype(np.float64)
    return start - (HALF_YEAR_DAYS if south else 0)


def visits_in_a_row(collection: Collection, evergreen: Bools, south: bool) -> Visits:
    """Lay all visits in a row and part them into seasons.

    A deciduous tree's season begins where it is seen awake again after SLEEP_DAYS in which it was not; an evergreen's
    with the year. So no date has to part the seasons of trees that are woken early under glass.
    """
    table = collection.visits
    there = np.isfinite(table.day)
    tree, day = np.nonzero(there)[0], table.day[there]
    counted = {name: table.counted[name][there] for name in USED}
    in_leaf = (np.nan_to_num(counted["leaves"]) > 0) | (np.nan_to_num(counted["leaves_per_shoot"]) > 0)
    falling = counted["bbch"] >= FALLS_BBCH
    awake = (in_leaf & ~falling) | ((counted["bbch"] >= WAKES_BBCH) & ~falling)
    new_tree, new_year = np.ones(len(day), dtype=bool), np.zeros(len(day), dtype=bool)
    year = year_of(day, south)
    new_tree[1:], new_year[1:] = tree[1:] != tree[:-1], year[1:] != year[:-1]
    begins = new_tree | np.where(evergreen[tree], new_year, _wakes_again(tree, day, awake))
    return Visits(tree, day, np.cumsum(begins) - 1, awake, in_leaf, np.flatnonzero(begins), counted)


def _wakes_again(tree: Ints, day: Floats, awake: Bools) -> Bools:
    """Visits that saw a tree awake for the first time in SLEEP_DAYS, and not for the first time of all."""
    again = np.zeros(len(day), dtype=bool)
    up = np.flatnonzero(awake)
    slept = (tree[up[1:]] == tree[up[:-1]]) & (day[up[1:]] - day[up[:-1]] >= SLEEP_DAYS)
    again[up[1:][slept]] = True
    return again


USED = ("shoots", "leaves_per_shoot", "leaves", "leaves_fallen", "shoot_cm", "bbch")


def find_seasons(
    collection: Collection,
    flat: Visits,
    per_shoot: Floats,
    kinds: list[Species],
    south: bool,
    middles: Middles | None = None,
) -> Seasons:
    """Say of every season when it began, and which is each tree's present one.

    `middles` are learned from these trees, unless those of the whole collection are given.
    """
    tree, today = flat.tree[flat.first], collection.until_s / DAY_S
    woke, seen = _waking(flat, per_shoot)
    year = year_of(np.where(np.isfinite(woke), woke, flat.day[flat.first]), south)
    always = np.array([kind.evergreen for kind in kinds], dtype=bool)[tree]
    woke = np.where(always, year_start(year, south), woke)
    seen |= always
    kind = np.array([kinds[row].key for row in tree], dtype=object)
    middles = _middles(woke, seen, kind, year) if middles is None else middles
    woke = _stand_in(woke, seen, kind, year, middles)
    last_awake = np.full(len(tree), -np.inf)
    np.maximum.at(last_awake, flat.season[flat.awake], flat.day[flat.awake])
    present = np.where(always, year == year_of(np.array([today - 0.5]), south), last_awake > today - SLEEP_DAYS)
    now = np.full(len(collection.trees), -1, dtype=np.int64)
    now[tree[present]] = np.flatnonzero(present)
    return Seasons(tree, woke, seen, _shaped(collection, flat, woke), now, middles)


def _waking(flat: Visits, per_shoot: Floats) -> tuple[Floats, Bools]:
    """First visit of each season that found the tree awake (NaN: none), and whether waking itself was seen then."""
    n = len(flat.first)
    at = np.full(n, len(flat.day), dtype=np.int64)
    np.minimum.at(at, flat.season[flat.awake], np.flatnonzero(flat.awake))
    found = at < len(flat.day)
    if not found.any():
        return np.full(n, np.nan), found
    at = np.where(found, at, 0)
    before = np.maximum(at - 1, 0)
    asleep = (at > 0) & (flat.tree[before] == flat.tree[at]) & ~flat.awake[before]
    asleep &= flat.day[at] - flat.day[before] <= ASLEEP_DAYS_MAX
    few_leaves = np.nan_to_num(per_shoot[at], nan=np.inf) <= WOKE_LEAVES_MAX
    return np.where(found, flat.day[at], np.nan), found & (asleep | few_leaves | ~flat.in_leaf[at])


def _middles(woke: Floats, seen: Bools, kind: Words, year: Ints) -> Middles:
    """The middle day of a kind's trees that were seen to wake in a year; the first leaf of all where none was."""
    found = np.isfinite(woke)
    middles = {}
    for key in dict.fromkeys(kind.tolist()):
        for number in np.unique(year[found & (kind == key)]):
            mine = found & (kind == key) & (year == number)
            told = woke[mine & seen]
            middles[key, int(number)] = float(np.median(told)) if len(told) else float(woke[mine].min())
    return middles


def _stand_in(woke: Floats, seen: Bools, kind: Words, year: Ints, middles: Middles) -> Floats:
    """Where waking was not seen, the middle day of its kind that year stands in, if that lies before the first leaf."""
    result = woke.copy()
    for season in np.flatnonzero(np.isfinite(woke) & ~seen):
        result[season] = min(woke[season], middles.get((kind[season], int(year[season])), np.inf))
    return result


def _shaped(collection: Collection, flat: Visits, woke: Floats) -> Floats:
    """Day of the first pruning or pinching after waking, by season; NaN where there was none."""
    done = [
        (collection.rows[tree], work.at_s / DAY_S)
        for tree, works in collection.works.items()
        for work in works
        if work.task in SHAPING_TASKS and tree in collection.rows
    ]
    shaped = np.full(len(woke), np.inf)
    if done and len(woke):
        tree, day = np.array(done).T
        starts = flat.tree[flat.first] * TREE_KEY + flat.day[flat.first]
        season = np.maximum(np.searchsorted(starts, tree * TREE_KEY + day, side="right") - 1, 0)
        fit = (flat.tree[flat.first][season] == tree) & (day > woke[season])
        np.minimum.at(shaped, season[fit], day[fit])
    return np.where(np.isfinite(shaped), shaped, np.nan)
