"""The year's review: what each variety gave under each shelter, how it ranks, and whether it earns its place."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.analysis.season import (
    Cells,
    Level,
    Standing,
    Verdict,
    cells_of,
    level,
    standing,
    verdict,
)
from server.analysis.tree_seasons import SHELTERS, UNKNOWN
from server.errors import Refused
from server.reports.judge import judge
from server.reports.kinds import species_known
from server.reports.load import DAY_S, FIRST_DAY, LAST_DAY, load
from server.reports.season_settings import Weighing, weighing
from server.reports.seasonwords import Place, reasons
from server.reports.shapes import Report, rounded
from server.reports.tree_seasons import OVER_DAY, TreeYears, tree_years
from server.wording.said import say

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EARLY_DAY = 243
"""Before this day of the growing year (September, in the south March) too little is picked for a verdict."""


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
    species_words: str


@dataclass(frozen=True)
class SeasonReport(Report):
    """The review of a growing year: `growing_year` says when it runs, `years` which others can be reviewed.

    `early`: too little is picked yet for any verdict; `over`: nothing more is expected of it. `weights`: what each
    measure counts for in the rank, as shares of 1.
    """

    year: int = 0
    early: bool = False
    over: bool = True
    growing_year: str = ""
    years: list[int] = field(default_factory=list)
    weights: dict[str, float] = field(default_factory=dict)

    def document(self) -> dict[str, Any]:
        """The report as plain values, ready for JSON."""
        added = ("year", "early", "over", "growing_year", "years", "weights")
        return super().document() | {name: getattr(self, name) for name in added}


@dataclass(frozen=True)
class _Kinds:
    """The kinds of one species, variety under shelter: their standing over all years, and the asked year by itself."""

    years: TreeYears
    species: str
    words: str
    cells: Cells
    standing: Standing
    tree_seasons: Ints
    picked: Ints
    of: Ints
    values: dict[str, Floats]
    year_yield: Level
    early: bool
    sure: float


def season(on: date | None = None, year: int | None = None) -> SeasonReport:
    """Review a growing year (None: that of `on`) with what is known at the end of `on` (None: today).

    Retired trees count in the years in which they stood. Raises Refused for a year out of reach, or still to come.
    """
    collection, figures = load(on, include_retired=True), weighing()
    return season_report(tree_years(collection, judge(collection), figures.damaged_percent), figures, year)


def season_report(years: TreeYears, figures: Weighing, year: int | None = None) -> SeasonReport:
    """Lay the review of a growing year out as items."""
    collection = years.collection
    asked = year if year is not None else years.year_of(collection.until_s / DAY_S - 0.5)
    _check(asked, years, year)
    sheltered = years.seasons.shelter != UNKNOWN
    items: list[SeasonItem] = []
    for number, species in enumerate(years.species):
        kept = sheltered & (years.seasons.species == number) & (years.seasons.year <= asked)
        if (kept & (years.seasons.year == asked)).any():
            kinds = _kinds(years, figures, kept, species, asked)
            items += [_item(kinds, int(cell)) for cell in np.unique(kinds.of)]
    items.sort(key=lambda item: (item.species, item.rank))
    runs = say("July to June, named for the year in which it ends") if years.south else say("January to December")
    return SeasonReport(
        collection.on,
        items,
        year=asked,
        early=_early(years, asked),
        over=years.day_of_year(asked) >= OVER_DAY,
        growing_year=runs,
        years=np.unique(years.seasons.year[sheltered]).tolist(),
        weights={name: round(abs(weight), 3) for name, weight in figures.weights.items()},
    )


def _early(years: TreeYears, asked: int) -> bool:
    return years.day_of_year(asked) < EARLY_DAY


def _check(asked: int, years: TreeYears, year: int | None) -> None:
    if not FIRST_DAY.year <= asked <= LAST_DAY.year:
        told = say("Years reach from {first} to {last}, not to {asked}.")
        raise Refused.of("year", told.filled(first=FIRST_DAY.year, last=LAST_DAY.year, asked=asked))
    if year is not None and years.day_of_year(year) < 1:
        told = say("The growing year {year} has not begun on {on}.", year=year, on=years.collection.on)
        raise Refused.of("year", told)


def _kinds(years: TreeYears, figures: Weighing, kept: Bools, species: str, asked: int) -> _Kinds:
    """Weigh the kinds of one species by the tree-seasons up to the asked year."""
    seasons = years.seasons.where(kept)
    cells = cells_of(seasons)
    now = seasons.year == asked
    year_cells = Cells(cells.variety, cells.shelter, cells.of[now])
    levels = {measure: level(seasons, cells, measure) for measure in figures.weights}
    told = {name: values[kept] for name, values in years.counts.items()}
    return _Kinds(
        years=years,
        species=species,
        words=species_known()[species].words,
        cells=cells,
        standing=standing(levels, len(cells.variety), figures.weights),
        tree_seasons=np.bincount(cells.of, minlength=len(cells.variety)),
        picked=levels["yield_g"].known,
        of=year_cells.of,
        values={name: values[now] for name, values in (seasons.values | told).items()},
        year_yield=level(seasons.where(now), year_cells, "yield_g"),
        early=_early(years, asked),
        sure=figures.sure,
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
        species_words=kinds.words,
    )


def _mean(values: Floats) -> float:
    told = values[np.isfinite(values)]
    return float(told.mean()) if len(told) else float("nan")


def _verdict(kinds: _Kinds, cell: int) -> Verdict:
    above = float(kinds.standing.above_middle[cell])
    return verdict(above, int(kinds.picked[cell]), len(kinds.cells.variety), not kinds.early, kinds.sure)


def _reasons(kinds: _Kinds, cell: int) -> list[str]:
    stands = kinds.standing
    place = Place(
        rank=int(stands.rank[cell]),
        low=int(stands.rank_low[cell]),
        high=int(stands.rank_high[cell]),
        of=len(kinds.cells.variety),
        above_middle=float(stands.above_middle[cell]),
        tree_seasons=int(kinds.tree_seasons[cell]),
        picked=int(kinds.picked[cell]),
        points={measure: float(points[cell]) for measure, points in stands.points.items()},
    )
    return reasons(place, _verdict(kinds, cell), kinds.early)
