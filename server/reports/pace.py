"""Where every tree stands against what its kind, its variety and its own earlier years let expect by now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server import ids
from server.analysis.pace import (
    Measured,
    Pace,
    pace,
    pace_word,
    place_again,
    share_further_on,
    together,
)
from server.records import queries
from server.reports.growth import LEAF_UNIT, SHOOT_UNIT, Growth, growth
from server.reports.load import DAY_S, Collection, load
from server.reports.pacedrawing import drawings
from server.reports.pacerests import Rests, rests
from server.reports.pacewords import Stand, Woken, pace_words
from server.reports.shapes import Report, rounded

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Settings; no published source.
COUNTED_DAYS_MAX = 21.0
"""A count older than this says nothing about today."""


@dataclass(frozen=True)
class PaceItem:
    """One tree's pace.

    `pace`: ahead, on pace, behind, unknown; `further_on`: the share of trees like it that would stand further on;
    `heat` °C days since `woke` (`woke_seen`: it was noted; an `evergreen` counts from the year's start), of which
    `guessed_days` had no reading anywhere. `rests_on`: whose counts the expectation comes from. `drawing` holds counts
    and band along the season, if asked.
    """

    tag: str
    tree: str
    pace: str
    further_on: float | None
    woke: str | None
    woke_seen: bool
    evergreen: bool
    heat: float | None
    guessed_days: int | None
    leaves_per_shoot: Stand
    shoot_cm: Stand
    rests_on: Rests
    why: list[str]
    drawing: dict[str, Any] | None = None


@dataclass(frozen=True)
class Paced:
    """The collection with every season's place on both measures, and the day of its last count, NaN for none.

    And by tree, shape (trees,): its present `surprise`, its `heat` and the `guessed` days in it; what it `rests` on.
    """

    collection: Collection
    growth: Growth
    leaves: Pace
    shoots: Pace
    leaves_day: Floats
    shoots_day: Floats
    surprise: Floats
    heat: Floats
    guessed: Floats
    rests: list[Rests]


def pace_report(on: date | None = None, tag: str | None = None) -> Report:
    """Every tree's pace up to the end of `on` (None: today), or one tree's with its drawing.

    Raises BadTagCode and NotFound for a tag that no tree has.
    """
    only = queries.tree_by_tag(ids.read_tag_code(tag)) if tag is not None else None
    paced = find_paces(load(on))
    rows = [row for row, tree in enumerate(paced.collection.trees) if only is None or tree.id == only]
    return Report(paced.collection.on, [pace_item(paced, row, with_drawing=only is not None) for row in rows])


def find_paces(collection: Collection) -> Paced:
    """Fit both measures to the collection, and place every tree's present season."""
    grown = growth(collection)
    leaves = pace(grown.leaves, grown.levels, grown.scale(LEAF_UNIT), grown.current)
    shoots = pace(grown.shoots, grown.levels, grown.scale(SHOOT_UNIT), grown.current)
    return _paced(collection, grown, leaves, shoots, rests(grown, len(collection.trees)))


def find_again(part: Collection, rows: Ints, known: Paced) -> Paced | None:
    """Place some trees anew by what is expected of their seasons already; `rows` are theirs in the whole collection.

    None where a tree's seasons are others than before: then all have to be fitted anew.
    """
    grown, seasons = growth(part, known.growth), known.growth.seasons
    number = np.full(len(known.collection.trees), -1, dtype=np.int64)
    number[rows] = np.arange(len(rows))
    mine = np.flatnonzero(number[seasons.tree] >= 0)
    mine = mine[np.argsort(number[seasons.tree[mine]], kind="stable")]
    if not np.array_equal(number[seasons.tree[mine]], grown.seasons.tree):
        return None
    if not np.array_equal(seasons.woke_day[mine], grown.seasons.woke_day, equal_nan=True):
        return None
    leaves, shoots = place_again(grown.leaves, known.leaves, mine), place_again(grown.shoots, known.shoots, mine)
    return _paced(part, grown, leaves, shoots, [known.rests[row] for row in rows])


def _paced(collection: Collection, grown: Growth, leaves: Pace, shoots: Pace, resting: list[Rests]) -> Paced:
    """What follows for every tree from its seasons' places on both measures."""
    fresh = collection.until_s / DAY_S - COUNTED_DAYS_MAX
    days = [_last_day(measured, len(grown.seasons.tree)) for measured in (grown.leaves, grown.shoots)]
    pairs = zip(days, (leaves, shoots), strict=True)
    whole = ~np.isfinite(grown.seasons.shaped_day)
    # The shoots of a pruned tree are held against nobody's.
    told = [np.where(whole & (last >= fresh), found.surprise, np.nan) for last, found in pairs]
    return Paced(
        collection=collection,
        growth=grown,
        leaves=leaves,
        shoots=shoots,
        leaves_day=days[0],
        shoots_day=days[1],
        surprise=_of_now(grown, together(np.array(told))),
        heat=_heat_now(collection, grown),
        guessed=grown.warm.guessed(_of_now(grown, grown.seasons.woke_day), _end(collection)),
        rests=resting,
    )


def pace_item(paced: Paced, row: int, with_drawing: bool = False) -> PaceItem:
    """One tree's pace in figures and words."""
    grown, tree = paced.growth, paced.collection.trees[row]
    season = int(grown.seasons.now[row])
    surprise = float(paced.surprise[row])
    leaves = _stand(paced.collection, paced.leaves, paced.leaves_day, season)
    shoots = _stand(paced.collection, paced.shoots, paced.shoots_day, season)
    further_on = share_further_on(surprise)
    woke = float(grown.seasons.woke_day[season]) if season >= 0 else float("nan")
    return PaceItem(
        tag=tree.tag,
        tree=tree.id,
        pace=pace_word(surprise),
        further_on=rounded(further_on, 3),
        woke=iso(paced.collection, woke),
        woke_seen=bool(season >= 0 and grown.seasons.woke_seen[season]),
        evergreen=bool(grown.evergreen[row]),
        heat=rounded(paced.heat[row], 0),
        guessed_days=int(paced.guessed[row]) if np.isfinite(paced.guessed[row]) else None,
        leaves_per_shoot=leaves,
        shoot_cm=shoots,
        rests_on=paced.rests[row],
        why=pace_words(_told(paced, row), leaves, shoots, further_on),
        drawing=drawings(paced.collection, grown, measures(paced), season) if with_drawing and season >= 0 else None,
    )


def _told(paced: Paced, row: int) -> Woken:
    """When a tree woke, and what came after, for the words."""
    seasons, season = paced.growth.seasons, int(paced.growth.seasons.now[row])
    if season < 0:
        return Woken(None, False, float("nan"), None)
    days = (float(values[season]) for values in (seasons.woke_day, seasons.shaped_day))
    woke, shaped = (paced.collection.day_of(day) if np.isfinite(day) else None for day in days)
    return Woken(
        on=woke,
        noted=bool(seasons.woke_seen[season]),
        heat=float(paced.heat[row]),
        shaped_on=shaped,
        guessed_days=int(np.nan_to_num(paced.guessed[row])),
        evergreen=bool(paced.growth.evergreen[row]),
    )


def _of_now(grown: Growth, values: Floats) -> Floats:
    """Values of seasons as those of each tree's present one, shape (trees,); NaN where it has none."""
    now = grown.seasons.now
    padded = np.append(values, np.nan)
    picked: Floats = padded[now]
    return picked


def measures(paced: Paced) -> dict[str, tuple[Measured, Pace]]:
    """Both measures by their names: what was counted, and where it stands."""
    return {"leaves_per_shoot": (paced.growth.leaves, paced.leaves), "shoot_cm": (paced.growth.shoots, paced.shoots)}


def _last_day(measured: Measured, seasons: int) -> Floats:
    """Day of each season's last count, shape (seasons,); NaN where there is none."""
    last = np.full(seasons, np.nan)
    np.fmax.at(last, measured.season, measured.day)
    return last


def _stand(collection: Collection, found: Pace, last_day: Floats, season: int) -> Stand:
    if season < 0:
        return Stand(None, None, None, None)
    seen, low, middle, high = (rounded(v[season], 1) for v in (found.seen, found.low, found.middle, found.high))
    return Stand(seen, low, middle, high, iso(collection, float(last_day[season])))


def _heat_now(collection: Collection, grown: Growth) -> Floats:
    """Heat since waking up to the report's day, shape (trees,); NaN for trees that were not seen awake."""
    woke = _of_now(grown, grown.seasons.woke_day)
    awake = np.flatnonzero(np.isfinite(woke))
    heat = np.full(len(woke), np.nan)
    heat[awake] = grown.warm.at(awake, np.full(len(awake), _end(collection)))
    heat[awake] -= grown.warm.at(awake, woke[awake])
    return heat


def _end(collection: Collection) -> float:
    """A moment before midnight, which still belongs to the report's own day."""
    return collection.until_s / DAY_S - 0.01


def iso(collection: Collection, day: float) -> str | None:
    """A moment's day as it is written; None for NaN."""
    return collection.day_of(day).isoformat() if np.isfinite(day) else None
