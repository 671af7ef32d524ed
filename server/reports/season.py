"""The year's review: what each variety gave under each shelter, how it ranks, and whether it earns its place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.analysis.season import (
    KINDS_MIN,
    TREE_SEASONS_MIN,
    WEIGHTS,
    Cells,
    Level,
    Standing,
    cells_of,
    level,
    standing,
    verdict,
)
from server.analysis.tree_seasons import SHELTERS, UNKNOWN
from server.errors import FieldProblem, Refused
from server.reports.judge import judge
from server.reports.load import DAY_S, FIRST_DAY, LAST_DAY, load
from server.reports.shapes import Report, rounded
from server.reports.tree_seasons import OVER_DAY, TreeYears, tree_years

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EARLY_DAY = 243
"""Before this day of the growing year (September, in the south March) too little is picked for a verdict."""
POINTS_TOLD_MIN = 0.1
"""A measure that moves the score by less is no reason."""
# For a reason: words where it adds to the score, and where it takes from it.
REASONS = {
    "yield_g": ("It gives more than most", "It gives less than most"),
    "quality": ("Its fruit is better than most", "Its fruit is poorer than most"),
    "days_to_ripeness": ("It ripens early", "It ripens late"),
    "troubles": ("It has little trouble", "It has much trouble"),
    "care": ("It asks for little work", "It asks for much work"),
}


@dataclass(frozen=True)
class SeasonItem:
    """One variety under one shelter in one growing year, against the others of its species.

    `yield_g` a tree that season, with its 90 % interval `yield_low` to `yield_high`, leaning on the other kinds as far
    as they agree; `picked_g` the plain mean of the `trees_picked` whose yield is known. `quality` 1-5;
    `days_to_ripeness` from waking to the first main harvest; `leaf_drops` findings, `troubles` (leaf drops, and damage
    that began) and `care` (pieces of work and moves) a tree; `damage_percent` the mean of each tree's worst. Rank 1 is
    best of `of` kinds, `rank_low` to `rank_high` its 90 % interval, `above_middle` the probability of standing above
    the middle kind: these, and the verdict, rest on all `tree_seasons` up to that year. None where not known.
    """

    variety: str
    shelter: str
    species: str
    trees: int
    tree_seasons: int
    yield_g: float | None
    yield_low: float | None
    yield_high: float | None
    picked_g: float | None
    trees_picked: int
    quality: float | None
    days_to_ripeness: float | None
    leaf_drops: float | None
    damage_percent: float | None
    troubles: float | None
    care: float | None
    visits: float | None
    rank: int
    rank_low: int
    rank_high: int
    of: int
    above_middle: float
    verdict: str
    reasons: list[str]


@dataclass(frozen=True)
class SeasonReport(Report):
    """The review of a growing year; `over` once nothing more is expected of it, `growing_year` says when it runs."""

    year: int = 0
    over: bool = True
    growing_year: str = ""

    def document(self) -> dict[str, Any]:
        """The report as plain values, ready for JSON."""
        return super().document() | {"year": self.year, "over": self.over, "growing_year": self.growing_year}


@dataclass(frozen=True)
class _Kinds:
    """The kinds of one species, variety under shelter: their standing over all years, and the asked year by itself."""

    years: TreeYears
    species: str
    cells: Cells
    standing: Standing
    tree_seasons: Ints
    picked: Ints
    of: Ints
    values: dict[str, Floats]
    year_yield: Level
    early: bool


def season(on: date | None = None, year: int | None = None) -> SeasonReport:
    """Review a growing year (None: that of `on`) with what is known at the end of `on` (None: today).

    Retired trees count in the years in which they stood. Raises Refused for a year out of reach, or still to come.
    """
    collection = load(on, include_retired=True)
    return season_report(tree_years(collection, judge(collection)), year)


def season_report(years: TreeYears, year: int | None = None) -> SeasonReport:
    """Lay the review of a growing year out as items."""
    collection = years.collection
    asked = year if year is not None else years.year_of(collection.until_s / DAY_S - 0.5)
    _check(asked, years, year)
    items: list[SeasonItem] = []
    for number, species in enumerate(years.species):
        kept = (years.seasons.species == number) & (years.seasons.year <= asked)
        kept &= years.seasons.shelter != UNKNOWN
        if (kept & (years.seasons.year == asked)).any():
            kinds = _kinds(years, kept, species, asked)
            items += [_item(kinds, int(cell)) for cell in np.unique(kinds.of)]
    items.sort(key=lambda item: (item.species, item.rank))
    runs = "July to June, named for the year in which it ends" if years.south else "January to December"
    return SeasonReport(collection.on, items, year=asked, over=years.day_of_year(asked) >= OVER_DAY, growing_year=runs)


def _check(asked: int, years: TreeYears, year: int | None) -> None:
    if not FIRST_DAY.year <= asked <= LAST_DAY.year:
        problem = FieldProblem("year", f"Years reach from {FIRST_DAY.year} to {LAST_DAY.year}, not to {asked}.")
        raise Refused(problem.message, (problem,))
    if year is not None and years.day_of_year(year) < 1:
        problem = FieldProblem("year", f"The growing year {year} has not begun on {years.collection.on}.")
        raise Refused(problem.message, (problem,))


def _kinds(years: TreeYears, kept: Bools, species: str, asked: int) -> _Kinds:
    """Weigh the kinds of one species by the tree-seasons up to the asked year."""
    seasons = years.seasons.where(kept)
    cells = cells_of(seasons)
    now = seasons.year == asked
    year_cells = Cells(cells.variety, cells.shelter, cells.of[now])
    levels = {measure: level(seasons, cells, measure) for measure in WEIGHTS}
    told = {name: values[kept] for name, values in years.counts.items()}
    return _Kinds(
        years=years,
        species=species,
        cells=cells,
        standing=standing(levels, len(cells.variety)),
        tree_seasons=np.bincount(cells.of, minlength=len(cells.variety)),
        picked=levels["yield_g"].known,
        of=year_cells.of,
        values={name: values[now] for name, values in (seasons.values | told).items()},
        year_yield=level(seasons.where(now), year_cells, "yield_g"),
        early=years.day_of_year(asked) < EARLY_DAY,
    )


def _item(kinds: _Kinds, cell: int) -> SeasonItem:
    mine = kinds.of == cell
    mean = {name: _mean(values[mine]) for name, values in kinds.values.items()}
    middle, low, high = kinds.year_yield.interval(cell)
    place = kinds.standing
    return SeasonItem(
        variety=kinds.years.varieties[kinds.cells.variety[cell]],
        shelter=SHELTERS[kinds.cells.shelter[cell]],
        species=kinds.species,
        trees=int(mine.sum()),
        tree_seasons=int(kinds.tree_seasons[cell]),
        yield_g=rounded(max(middle, 0.0), 0),
        yield_low=rounded(max(low, 0.0), 0),
        yield_high=rounded(max(high, 0.0), 0),
        picked_g=rounded(mean["yield_g"], 0),
        trees_picked=int(kinds.year_yield.known[cell]),
        quality=rounded(mean["quality"], 2),
        days_to_ripeness=rounded(mean["days_to_ripeness"], 1),
        leaf_drops=rounded(mean["leaf_drops"], 2),
        damage_percent=rounded(mean["damage_percent"], 1),
        troubles=rounded(mean["troubles"], 2),
        care=rounded(mean["care"], 1),
        visits=rounded(mean["visits"], 1),
        rank=int(place.rank[cell]),
        rank_low=int(place.rank_low[cell]),
        rank_high=int(place.rank_high[cell]),
        of=len(kinds.cells.variety),
        above_middle=round(float(place.above_middle[cell]), 3),
        verdict=_verdict(kinds, cell),
        reasons=_reasons(kinds, cell),
    )


def _mean(values: Floats) -> float:
    told = values[np.isfinite(values)]
    return float(told.mean()) if len(told) else float("nan")


def _verdict(kinds: _Kinds, cell: int) -> str:
    above = float(kinds.standing.above_middle[cell])
    return verdict(above, int(kinds.picked[cell]), len(kinds.cells.variety), not kinds.early)


def _reasons(kinds: _Kinds, cell: int) -> list[str]:
    """What the verdict rests on: how many tree-seasons, why none can be given, the rank, and the measures that tell."""
    seasons, picked = int(kinds.tree_seasons[cell]), int(kinds.picked[cell])
    of, place = len(kinds.cells.variety), kinds.standing
    if kinds.early:
        return ["It is too early in the growing year for a verdict."]
    if of < KINDS_MIN:
        return ["There is no other variety or shelter of its species to compare it with."]
    if picked < TREE_SEASONS_MIN:
        counted = "Only one tree-season has" if picked == 1 else "No tree-season has"
        wait = "one tree in one year may have been lucky" if picked else "weigh what it gives"
        return [f"{counted} a known yield, of {seasons} seen: {wait}."]
    chance = round(100 * float(place.above_middle[cell]))
    rank = f"Ranks {place.rank[cell]} of {of}, somewhere from {place.rank_low[cell]} to {place.rank_high[cell]}"
    words = [f"{rank}; it stands above the middle with {min(max(chance, 1), 99)} in 100, by {picked} tree-seasons."]
    told = sorted(place.points.items(), key=lambda part: -abs(part[1][cell]))
    for measure, points in told:
        if abs(points[cell]) >= POINTS_TOLD_MIN:
            words.append(f"{REASONS[measure][int(points[cell] < 0)]}.")
    if _verdict(kinds, cell) == "try again":
        words.append("That is not sure enough to keep it or to let it go.")
    return words
