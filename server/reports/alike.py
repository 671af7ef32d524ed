"""Varieties that behave alike in all that was measured: perhaps one and the same under two names, with the evidence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from server.analysis.tree_seasons import SHELTERS, TreeSeasons
from server.analysis.twogroups import by_tree, gap, without_years
from server.reports.compare import MEASURES
from server.reports.load import load
from server.reports.shapes import Report, rounded
from server.reports.tree_seasons import TreeYears, tree_years
from server.wording.said import say

# A grower's settings; common practice, no published source.
TREES_MIN = 3
MEASURES_MIN = 3
WITHIN_SPREADS = 0.75
"""How far two means may lie apart, in standard deviations of the species' trees, and still be taken as alike."""
VARIETIES_MAX = 300
PAIRS_MAX = 50


@dataclass(frozen=True)
class Evidence:
    """One measure: the difference of the means with its 90 % interval, in the measure's unit, and its limit."""

    measure: str
    difference: float
    low: float
    high: float
    limit: float


@dataclass(frozen=True)
class AlikeItem:
    """Two varieties of a species whose means lie surely within the limits on every measure known of both."""

    variety: str
    other: str
    species: str
    trees: int
    trees_other: int
    evidence: list[Evidence]
    say: str


def alike(on: date | None = None) -> Report:
    """Pairs of varieties that may be one, over all growing years up to the end of `on` (None: today).

    Two one-sided tests on each measure: alike only where the whole 90 % interval lies within the limits (Schuirmann
    1987, J. Pharmacokinet. Biopharm. 15:657-680). What years and shelters did to all is taken off. Looks alone can't
    be told from figures: leaves and fruit have to be compared by eye before two names become one.
    """
    years = tree_years(load(on, include_retired=True))
    items = [item for number in range(len(years.species)) for item in _alike(years, number)]
    items.sort(key=lambda item: (-len(item.evidence), item.variety, item.other))
    return Report(years.collection.on, items[:PAIRS_MAX])


def _alike(years: TreeYears, species: int) -> Iterator[AlikeItem]:
    seasons = years.seasons.where(years.seasons.species == species)
    trees = {code: len(np.unique(seasons.tree[seasons.variety == code])) for code in np.unique(seasons.variety)}
    enough = [int(code) for code, count in trees.items() if count >= TREES_MIN and years.varieties[code] != "unnamed"]
    values = {measure: _level(seasons, measure) for measure in MEASURES}
    limits = {measure: WITHIN_SPREADS * _spread(seasons.tree, value) for measure, value in values.items()}
    for first, second in combinations(enough[:VARIETIES_MAX], 2):
        found = _evidence(seasons, values, limits, first, second)
        if found is not None:
            one, other = years.varieties[first], years.varieties[second]
            told = say(
                "{one} and {other} are alike in all {measures} measures known of both ({trees} and {trees_other}"
                " trees): perhaps one and the same. Compare leaves and fruit by eye.",
                one=one,
                other=other,
                measures=len(found),
                trees=trees[first],
                trees_other=trees[second],
            )
            yield AlikeItem(one, other, years.species[species], trees[first], trees[second], found, told)


def _level(seasons: TreeSeasons, measure: str) -> NDArray[np.float64]:
    """A measure without what each year did under each shelter."""
    return without_years(seasons.values[measure], seasons.year * (len(SHELTERS) + 1) + seasons.shelter + 1)


def _spread(tree: NDArray[np.int64], value: NDArray[np.float64]) -> float:
    each = list(by_tree(tree, value).values())
    return float(np.std(each, ddof=1)) if len(each) > 1 else 0.0


def _evidence(
    seasons: TreeSeasons,
    values: dict[str, NDArray[np.float64]],
    limits: dict[str, float],
    first: int,
    second: int,
) -> list[Evidence] | None:
    """What is known of both; None where they differ, may differ, or too little is known."""
    found = []
    for measure, value in values.items():
        sides = [
            by_tree(seasons.tree[mine], value[mine]) for mine in (seasons.variety == first, seasons.variety == second)
        ]
        if min(map(len, sides)) < TREES_MIN:
            continue
        apart, limit = gap(*sides), limits[measure]
        if apart is None or apart.low is None or apart.high is None:
            continue
        if not (-limit < apart.low and apart.high < limit):
            return None
        figures = (rounded(each, 1) or 0.0 for each in (apart.difference, apart.low, apart.high, limit))
        found.append(Evidence(measure, *figures))
    return found if len(found) >= MEASURES_MIN else None
