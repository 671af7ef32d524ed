"""What the expectation of a tree's pace rests on: its own earlier years, its variety's trees, its species'."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.reports.growth import Growth

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Rests:
    """Counted growth besides a tree's present season: its own other seasons, and other trees of its kind."""

    own_seasons: int = 0
    variety_trees: int = 0
    species_trees: int = 0


def rests(grown: Growth, trees: int) -> list[Rests]:
    """What was counted of each tree's own other seasons, of others of its variety and of its species, by tree."""
    found = [Rests()] * trees
    counted = np.zeros(len(grown.seasons.tree), dtype=bool)
    for measured in (grown.leaves, grown.shoots):
        counted[measured.season] = True
    tree_of, variety_of, species_of = grown.levels.parent[:3]
    seasons = np.bincount(tree_of[counted], minlength=len(variety_of))
    was_counted = seasons > 0
    same = [np.bincount(group[was_counted], minlength=int(group.max(initial=-1)) + 1) for group in _kinds(grown)]
    for season in grown.seasons.now[grown.seasons.now >= 0]:
        tree = tree_of[season]
        own = int(seasons[tree])
        of_variety, of_species = same[0][variety_of[tree]], same[1][species_of[variety_of[tree]]]
        others = [int(number) - int(was_counted[tree]) for number in (of_variety, of_species)]
        found[grown.seasons.tree[season]] = Rests(own - int(counted[season]), *others)
    return found


def _kinds(grown: Growth) -> tuple[Ints, Ints]:
    """Variety and species of each tree that has a season."""
    _, variety_of, species_of = grown.levels.parent[:3]
    return variety_of, species_of[variety_of]
