"""Every tree's growing seasons: when it woke, the heat since, and the counts of growth as the pace takes them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from server.analysis.nested import Levels
from server.analysis.pace import Measured, Scale
from server.analysis.pacecurve import LEAF_DD, NODE_CM
from server.analysis.species import Species
from server.reports.kinds import species_of
from server.reports.load import Collection
from server.reports.waking import FALLS_BBCH, Seasons, Visits, find_seasons, is_south, visits_in_a_row
from server.reports.warmth import Warmth, warmth, warmth_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

GROWS_DAYS, EVERGREEN_GROWS_DAYS = 150.0, 300.0
"""So long after waking (evergreens: after the year's start) shoots are thought to grow; a grower's setting."""


@dataclass(frozen=True)
class Growth:
    """All that the pace is computed from: seasons, measures, who belongs to whom, heat at any moment, evergreens."""

    seasons: Seasons
    leaves: Measured
    shoots: Measured
    levels: Levels
    current: Bools
    warm: Warmth
    evergreen: Bools

    def scale(self, unit: float) -> Scale:
        """The measure's unit and heat a leaf, the same guess for every tree; its species' counts correct it."""
        return Scale(unit, np.full(len(self.seasons.tree), LEAF_DD))


LEAF_UNIT, SHOOT_UNIT = 1.0, NODE_CM


def growth(collection: Collection, known: Growth | None = None) -> Growth:
    """Find every tree's seasons and lay its counts of growth out by the heat since it woke.

    `known`: that of the whole collection, where `collection` is a part of it; the heat of places and the middle days
    of waking are then taken from it.
    """
    kinds = species_of(collection.trees)
    warm = warmth(collection, kinds) if known is None else warmth_of(collection, kinds, known.warm)
    middles = None if known is None else known.seasons.middles
    south = is_south(collection.places.values())
    evergreen = np.array([kind.evergreen for kind in kinds], dtype=bool)
    flat = visits_in_a_row(collection, evergreen, south)
    shoots = _carried_on(flat.counted["shoots"], flat.season)
    per_shoot, sampled = _leaves_a_shoot(flat, shoots)
    seasons = _from_first_day(find_seasons(collection, flat, per_shoot, kinds, south, middles), evergreen, warm)
    fit = _comparable(flat, seasons, evergreen)
    started = seasons.woke_day[flat.season]
    by_then = warm.at(seasons.tree, np.nan_to_num(seasons.woke_day))[flat.season]
    heat = np.where(np.isfinite(started), np.maximum(warm.at(flat.tree, flat.day) - by_then, 0.0), 0.0)
    grown = per_shoot + _fallen_a_shoot(flat, shoots, started)

    def measured(values: Floats, few: Bools) -> Measured:
        there = fit & np.isfinite(values)
        return Measured(flat.season[there], flat.day[there], heat[there], values[there], few[there])

    current = np.zeros(len(seasons.tree), dtype=bool)
    current[seasons.now[seasons.now >= 0]] = True
    return Growth(
        seasons=seasons,
        leaves=measured(grown, sampled),
        shoots=measured(flat.counted["shoot_cm"], np.zeros(len(fit), dtype=bool)),
        levels=_levels(collection, kinds, seasons.tree),
        current=current,
        warm=warm,
        evergreen=evergreen,
    )


def _from_first_day(seasons: Seasons, evergreen: Bools, warm: Warmth) -> Seasons:
    """Let an evergreen's heat count from the first day that anything is known of, where its year began before."""
    known = np.maximum(seasons.woke_day, float(warm.first_day))
    return replace(seasons, woke_day=np.where(evergreen[seasons.tree], known, seasons.woke_day))


def _carried_on(values: Floats, season: Ints) -> Floats:
    """The last number known by each visit of the same season; NaN before the first."""
    known = np.isfinite(values) & (values > 0)
    last = np.maximum.accumulate(np.where(known, np.arange(len(values)), -1))
    fits = last >= 0
    fits[fits] = season[last[fits]] == season[fits]
    return np.where(fits, values[np.maximum(last, 0)], np.nan) if len(values) else values


def _leaves_a_shoot(flat: Visits, shoots: Floats) -> tuple[Floats, Bools]:
    """Leaves a shoot at each visit, and whether they are a mean of few shoots."""
    leaves, per_shoot = flat.counted["leaves"], flat.counted["leaves_per_shoot"]
    full = leaves / shoots
    sampled = ~np.isfinite(full) & np.isfinite(per_shoot)
    return np.where(sampled, per_shoot, full), sampled


def _fallen_a_shoot(flat: Visits, shoots: Floats, started: Floats) -> Floats:
    """Leaves fallen since waking, by shoot, 0 where nobody counted: a leaf that fell had grown all the same."""
    fallen = np.where(flat.day > started, np.nan_to_num(flat.counted["leaves_fallen"]), 0.0)
    total = np.cumsum(fallen)
    before = np.zeros(int(flat.season[-1]) + 1) if len(total) else np.zeros(0)
    starts = np.searchsorted(flat.season, np.arange(len(before)))
    before[:] = total[starts] - fallen[starts]
    return np.nan_to_num((total - before[flat.season]) / shoots)


def _comparable(flat: Visits, seasons: Seasons, evergreen: Bools) -> Bools:
    """Visits from waking on, while shoots grow, before leaf fall and before any pruning."""
    if not len(flat.day):
        return np.zeros(0, dtype=bool)
    started, shaped = seasons.woke_day[flat.season], seasons.shaped_day[flat.season]
    grows = np.where(evergreen[flat.tree], EVERGREEN_GROWS_DAYS, GROWS_DAYS)
    falling = np.full(len(seasons.tree), np.inf)
    falls = flat.counted["bbch"] >= FALLS_BBCH
    late = falls & (flat.day > started)
    np.minimum.at(falling, flat.season[late], flat.day[late])
    fit: Bools = (flat.day >= started) & (flat.day <= started + grows) & (flat.day < falling[flat.season])
    return fit & ~(flat.day >= shaped)


def _levels(collection: Collection, kinds: list[Species], tree: Ints) -> Levels:
    """Season → tree → variety → species → collection; only trees that have a season."""
    rows, tree_of = np.unique(tree, return_inverse=True)
    names = [(kinds[row].key, collection.trees[row].variety or "") for row in rows]
    varieties = {name: number for number, name in enumerate(dict.fromkeys(names))}
    species = {key: number for number, key in enumerate(dict.fromkeys(key for key, _ in varieties))}
    return Levels(
        (
            tree_of.astype(np.int64),
            np.array([varieties[name] for name in names], dtype=np.int64),
            np.array([species[key] for key, _ in varieties], dtype=np.int64),
            np.zeros(len(species), dtype=np.int64),
        )
    )
