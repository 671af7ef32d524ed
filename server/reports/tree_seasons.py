"""Every tree's growing years out of the records: its shelter and head start, and what was measured in each.

The growing year runs from January to December in the north, from July to June in the south, where it has the name of
the year in which it ends. The time in which trees grow is the same part of it for all: March to October in the north,
September to April in the south. A tree's shelter in a year is the cover under which it spent most of that time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.leaves import total_leaf_arrays
from server.analysis.tree_seasons import SHELTERS, UNKNOWN, Stays, TreeSeasons, sheltered
from server.reports.judge import Judged
from server.reports.kinds import species_of
from server.reports.load import DAY_S, Collection
from server.reports.waking import find_seasons, is_south, visits_in_a_row, year_of, year_start

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

GROWS_FROM_DAY, GROWS_TO_DAY = 59, 304
"""Days of the growing year between which trees grow: March to October, or September to April in the south."""
OVER_DAY = 273
"""From this day of the growing year on, a tree without fruit and harvest counts as one that gave none."""
DAMAGED_PERCENT = 10.0
"""Damage from here on is a trouble of its own unless the grower says otherwise; no published source."""
YEAR_KEY = 10_000


@dataclass(frozen=True)
class TreeYears:
    """The tree-seasons of a collection, with the names of their codes and what else was counted in each.

    `varieties` and `species` are the words of the codes in `seasons`; `counts` holds figures that are told, not
    compared (visits, leaf drops, worst damage), as `seasons.values` does.
    """

    collection: Collection
    seasons: TreeSeasons
    varieties: list[str]
    species: list[str]
    counts: dict[str, Floats]
    south: bool

    def year_of(self, day: float) -> int:
        """The growing year of a moment in days since 1970."""
        return int(year_of(np.array([day]), self.south)[0])

    def day_of_year(self, year: int) -> int:
        """How far a growing year has come by the end of the report's day, in days from its start."""
        return int(self.collection.until_s / DAY_S - float(year_start(np.array([year]), self.south)[0]))


@dataclass(frozen=True)
class _Entries:
    """Tree-seasons in the order of their keys, and which of them a tree's moment belongs to."""

    key: Ints
    south: bool

    @property
    def tree(self) -> Ints:
        """Row of the tree."""
        return self.key // YEAR_KEY

    @property
    def year(self) -> Ints:
        """Growing year."""
        return self.key % YEAR_KEY

    def of(self, tree: Ints, day: Floats) -> tuple[Ints, Bools]:
        """The entry of each event, and whether there is one."""
        key = tree * YEAR_KEY + year_of(day, self.south)
        at = np.minimum(np.searchsorted(self.key, key), max(len(self.key) - 1, 0))
        return at, (self.key[at] == key) if len(self.key) else np.zeros(len(key), dtype=bool)


@dataclass(frozen=True)
class _Picked:
    """Harvests one after the other; `main` for the main crop, or where the crop was not named."""

    tree: Ints
    day: Floats
    weight_g: Floats
    quality: Floats
    main: Bools


def tree_years(
    collection: Collection, judged: Judged | None = None, damaged_percent: float = DAMAGED_PERCENT
) -> TreeYears:
    """Lay every tree's growing years out; troubles are counted only where the collection was judged."""
    south = is_south(collection.places.values())
    table = collection.visits
    there = np.isfinite(table.day)
    row, day = np.nonzero(there)[0], table.day[there]
    picked = _picked(collection)
    keys = np.concatenate([row * YEAR_KEY + year_of(day, south), picked.tree * YEAR_KEY + year_of(picked.day, south)])
    entries = _Entries(np.unique(keys), south)
    at, _ = entries.of(row, day)
    counted = {name: values[there] for name, values in table.counted.items()}
    kinds = species_of(collection.trees)
    evergreen = np.array([kind.evergreen for kind in kinds], dtype=bool)
    woke = _woke(collection, entries, evergreen)
    shelter, head_start = _shelters(collection, entries, np.where(evergreen[entries.tree], np.nan, woke))
    n = len(entries.key)
    values = {
        **_grown(at, counted, n),
        **_harvest(entries, picked, woke, _last_fruit(at, counted, n), _days_into(collection, entries)),
        "care": _care(collection, entries),
    }
    counts = {"visits": np.bincount(at, minlength=n).astype(float)}
    counts["damage_percent"] = _most(at, counted["damage_percent"], n)
    if judged is not None:
        counts["leaf_drops"] = _begun(at, row, judged.drops.alarms[there], n)
        damaged = _begun(at, row, np.nan_to_num(counted["damage_percent"]) >= damaged_percent, n)
        values["troubles"] = np.where(counts["visits"] > 0, counts["leaf_drops"] + damaged, np.nan)
    varieties, variety = _codes([tree.variety or "unnamed" for tree in collection.trees])
    species, kind_of = _codes([kind.key for kind in kinds])
    tree = entries.tree
    seasons = TreeSeasons(tree, variety[tree], kind_of[tree], entries.year, shelter, head_start, values)
    return TreeYears(collection, seasons, varieties, species, counts, south)


def _codes(words: list[str]) -> tuple[list[str], Ints]:
    names = sorted(set(words))
    number = {name: code for code, name in enumerate(names)}
    return names, np.array([number[word] for word in words], dtype=np.int64)


def _picked(collection: Collection) -> _Picked:
    found = [h for tree in collection.rows for h in collection.harvests.get(tree, [])]
    numbers = np.array([(h.weight_g, h.quality) for h in found], dtype=float).reshape(-1, 2)
    return _Picked(
        tree=np.array([collection.rows[h.tree] for h in found], dtype=np.int64),
        day=np.array([h.at_s for h in found], dtype=float) / DAY_S,
        weight_g=numbers[:, 0],
        quality=numbers[:, 1],
        main=np.array([h.fruit != "breba" for h in found], dtype=bool),
    )


def _woke(collection: Collection, entries: _Entries, evergreen: Bools) -> Floats:
    """Day on which each entry's tree woke that year (evergreens: when the year began); NaN where it was not seen."""
    kinds = species_of(collection.trees)
    flat = visits_in_a_row(collection, evergreen, entries.south)
    per_shoot = np.where(
        np.isfinite(flat.counted["leaves_per_shoot"]),
        flat.counted["leaves_per_shoot"],
        flat.counted["leaves"] / np.maximum(flat.counted["shoots"], 1.0),
    )
    seasons = find_seasons(collection, flat, per_shoot, kinds, entries.south)
    woke = np.full(len(entries.key), np.inf)
    told = np.isfinite(seasons.woke_day)
    at, there = entries.of(seasons.tree[told], seasons.woke_day[told])
    np.minimum.at(woke, at[there], seasons.woke_day[told][there])
    return np.where(np.isfinite(woke), woke, np.nan)


def _shelters(collection: Collection, entries: _Entries, woke: Floats) -> tuple[Ints, Floats]:
    start = year_start(entries.year, entries.south)
    until = collection.until_s / DAY_S
    return sheltered(
        _stays(collection), entries.tree, start + GROWS_FROM_DAY, np.minimum(start + GROWS_TO_DAY, until), woke
    )


def _stays(collection: Collection) -> Stays:
    """Where every tree stood from its first day on, or since ever, up to the report's day."""
    cover = {place.id: _cover_code(place.cover) for place in collection.places.values()}
    until = collection.until_s / DAY_S
    found = []
    for row, tree in enumerate(collection.trees):
        since = float(np.datetime64(tree.started_on, "D").astype(np.int64)) if tree.started_on else -np.inf
        standing = cover.get(tree.place or "", UNKNOWN)
        for move in collection.moves.get(tree.id, []):
            found.append((row, standing, since, move.at_s / DAY_S))
            since, standing = move.at_s / DAY_S, cover.get(move.to_place, UNKNOWN)
        found.append((row, standing, since, until))
    table = np.array(found, dtype=float).reshape(-1, 4)
    return Stays(table[:, 0].astype(np.int64), table[:, 1].astype(np.int64), table[:, 2], table[:, 3])


def _cover_code(cover: str | None) -> int:
    return SHELTERS.index(cover) if cover in SHELTERS else UNKNOWN


def _most(at: Ints, values: Floats, n: int) -> Floats:
    """The largest figure of each entry; NaN where none was counted."""
    most = np.full(n, -np.inf)
    told = np.isfinite(values)
    np.maximum.at(most, at[told], values[told])
    return np.where(np.isfinite(most), most, np.nan)


def _grown(at: Ints, counted: dict[str, Floats], n: int) -> dict[str, Floats]:
    """Growth, leaves and fruit at their most in each year; fruit are those of both crops."""
    leaves, _ = total_leaf_arrays(counted["leaves"], counted["shoots"], counted["leaves_per_shoot"])
    crops = np.stack([_most(at, counted[name], n) for name in ("fruit_breba", "fruit_main")])
    fruit = np.where(np.isfinite(crops).any(axis=0), np.nansum(crops, axis=0), np.nan)
    return {"growth_cm": _most(at, counted["shoot_cm"], n), "leaves": _most(at, leaves, n), "fruit": fruit}


def _last_fruit(at: Ints, counted: dict[str, Floats], n: int) -> Floats:
    """Fruit on each tree at the year's last count of them; NaN where they were never counted."""
    crops = np.stack([counted["fruit_breba"], counted["fruit_main"]])
    told = np.isfinite(crops).any(axis=0)
    last = np.full(n, -1, dtype=np.int64)
    np.maximum.at(last, at[told], np.flatnonzero(told))
    fruit = np.nansum(crops, axis=0)
    return np.where(last >= 0, fruit[last], np.nan) if len(at) else np.full(n, np.nan)


def _days_into(collection: Collection, entries: _Entries) -> Floats:
    into: Floats = collection.until_s / DAY_S - year_start(entries.year, entries.south)
    return into


def _harvest(entries: _Entries, picked: _Picked, woke: Floats, last_fruit: Floats, into: Floats) -> dict[str, Floats]:
    """Yield, quality and days to ripeness, breba and main crop apart.

    A tree without a harvest gave 0 g only if the year is over, others were picked, and its last count found no fruit;
    else its yield is not known.
    """
    n = len(entries.key)
    at, _ = entries.of(picked.tree, picked.day)
    weighed, rated = np.isfinite(picked.weight_g), np.isfinite(picked.quality)
    weight = np.bincount(at[weighed], weights=picked.weight_g[weighed], minlength=n)
    known = np.bincount(at[weighed], minlength=n) > 0
    picked_years = np.unique(entries.year[at[weighed]])
    unpicked = np.bincount(at, minlength=n) == 0
    none = unpicked & (into >= OVER_DAY) & np.isin(entries.year, picked_years) & (last_fruit == 0)
    ratings = np.bincount(at[rated], minlength=n)
    quality = np.bincount(at[rated], weights=picked.quality[rated], minlength=n)
    ripe = {}
    for name, crop in (("days_to_ripeness", picked.main), ("days_to_ripeness_breba", ~picked.main)):
        first = np.full(n, np.inf)
        np.minimum.at(first, at[crop], picked.day[crop])
        days = np.floor(first) - np.floor(woke)
        ripe[name] = np.where(np.isfinite(days) & (days > 0), days, np.nan)
    return {
        "yield_g": np.where(known, weight, np.where(none, 0.0, np.nan)),
        "quality": np.divide(quality, ratings, out=np.full(n, np.nan), where=ratings > 0),
        **ripe,
    }


def _care(collection: Collection, entries: _Entries) -> Floats:
    """Pieces of work and moves of each tree in each year; not known in a year in which none were recorded."""
    facts = [
        (collection.rows[tree], fact.at_s / DAY_S)
        for kept in (collection.works, collection.moves)
        for tree, done in kept.items()
        if tree in collection.rows
        for fact in done
    ]
    table = np.array(facts, dtype=float).reshape(-1, 2)
    at, there = entries.of(table[:, 0].astype(np.int64), table[:, 1])
    care = np.bincount(at[there], minlength=len(entries.key)).astype(float)
    return np.where(np.isin(entries.year, np.unique(entries.year[at[there]])), care, np.nan)


def _begun(at: Ints, row: Ints, state: Bools, n: int) -> Floats:
    """How often a state began in each entry: true at a visit, and not at the tree's visit before."""
    begins = state.copy()
    begins[1:] &= ~(state[:-1] & (row[1:] == row[:-1]))
    return np.bincount(at[begins], minlength=n).astype(float)
