"""What is known of every tree's crop: fruit counted and thinned since, leaves now and their trend, its need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.crop import Crop, Tree, crop_against_leaves
from server.analysis.leaves import Z_90
from server.analysis.species import Species
from server.reports.judge import Judged
from server.reports.kinds import species_of
from server.reports.leafsizes import area_ratios
from server.reports.load import DAY_S, Collection

Floats = NDArray[np.float64]

# A grower's settings; common practice, no published source.
LEAVES_DAYS_MAX = 21.0
FRUIT_DAYS_MAX = 45.0
"""Counts older than this say nothing about today."""

THINNING = {"fruit_breba": "thin_breba", "fruit_main": "thin_main"}
"""The crops, in the order in which their fruit comes off, and the work that takes it off."""


@dataclass(frozen=True)
class Fruit:
    """Fruit of one crop on each tree, (trees,): `count` less what was thinned since (NaN unknown), when counted.

    `stale`: counted, but changed since by work or harvest of which nobody said how many fruits it took.
    """

    count: Floats
    day: Floats
    stale: NDArray[np.bool_]


@dataclass(frozen=True)
class Crops:
    """The collection's trees, what is known of their crops, and what follows; `totals` leaves at each visit."""

    collection: Collection
    kinds: list[Species]
    tree: Tree
    crop: Crop
    totals: Floats
    leaves_day: Floats
    fruit: dict[str, Fruit]


def find_crops(judged: Judged) -> Crops:
    """Hold every tree's fruit against its leaves."""
    collection, trends = judged.collection, judged.trends
    kinds, today = species_of(collection.trees), collection.until_s / DAY_S
    counted = np.isfinite(judged.totals)
    leaves_day = np.where(counted, collection.visits.day, -np.inf).max(axis=1, initial=-np.inf)
    fresh = leaves_day >= today - LEAVES_DAYS_MAX
    fruit = _fruit(collection, today)
    figures = [kind.figures.get("leaves_per_fruit") for kind in kinds]

    def need(name: str) -> Floats:
        values = [getattr(figure, name) if figure else None for figure in figures]
        return np.array([np.nan if value is None else value for value in values], dtype=float)

    safe = np.maximum(trends.leaves, 0.5)
    tree = Tree(
        leaves=np.where(fresh, trends.leaves, np.nan),
        log_sd=np.log(np.maximum(trends.leaves_high, 0.5) / safe) / Z_90,
        slope=np.log1p(trends.change / 100.0) / 7.0,
        slope_sd=(np.log1p(trends.change_high / 100.0) - np.log1p(trends.change_low / 100.0)) / (14.0 * Z_90),
        fruit_breba=np.where(fruit["fruit_breba"].stale, np.nan, fruit["fruit_breba"].count),
        fruit_main=np.where(fruit["fruit_main"].stale, np.nan, fruit["fruit_main"].count),
        need=need("value"),
        need_low=need("low"),
        need_high=need("high"),
        area_ratio=area_ratios(collection),
    )
    return Crops(collection, kinds, tree, crop_against_leaves(tree), judged.totals, leaves_day, fruit)


def _fruit(collection: Collection, today: float) -> dict[str, Fruit]:
    """The last count of each crop that is fresh enough, less what was thinned since."""
    table = collection.visits
    picked = _harvested(collection)
    found = {}
    for name, task in THINNING.items():
        values = table.counted[name]
        told = np.isfinite(values) & (table.day >= today - FRUIT_DAYS_MAX)
        there = told.any(axis=1)
        count, day = np.full(len(values), np.nan), np.full(len(values), np.nan)
        if values.shape[1]:
            last, rows = values.shape[1] - 1 - np.argmax(told[:, ::-1], axis=1), np.arange(len(values))
            count, day = np.where(there, values[rows, last], np.nan), np.where(there, table.day[rows, last], np.nan)
        stale = picked[name] > day
        _thinned(collection, task, count, day, stale)
        found[name] = Fruit(count, day, stale)
    return found


def _thinned(collection: Collection, task: str, count: Floats, day: Floats, stale: NDArray[np.bool_]) -> None:
    """Take off in place what was thinned after the count."""
    for tree, works in collection.works.items():
        row = collection.rows.get(tree)
        for work in works:
            if row is None or work.task != task or not work.at_s / DAY_S > day[row]:
                continue
            if work.amount is None:
                stale[row] = True
            else:
                count[row] = max(count[row] - work.amount, 0.0)


def _harvested(collection: Collection) -> dict[str, Floats]:
    """Day of each tree's last picking of each crop; −inf where nothing was picked."""
    last = {name: np.full(len(collection.trees), -np.inf) for name in THINNING}
    for tree, harvests in collection.harvests.items():
        row = collection.rows.get(tree)
        for harvest in harvests:
            name = f"fruit_{harvest.fruit}"
            if row is not None and name in last:
                last[name][row] = max(last[name][row], harvest.at_s / DAY_S)
    return last
