"""How large a tree's leaves are beside those usual for its variety: fruit is fed by leaf area, not by number."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from numpy.typing import NDArray

from server.records.queries import leaf_sizes
from server.reports.load import DAY_S, Collection

Floats = NDArray[np.float64]

# A grower's settings; common practice, no published source.
SIZE_DAYS_MAX = 120.0
"""A leaf measured longer ago is not of this growth."""
VARIETY_TREES_MIN, SPECIES_TREES_MIN = 3, 5
"""From so many measured trees on it is known what is usual in a variety, else in a species."""
SMALLEST, LARGEST = 0.6, 1.6
"""One or two leaves stand for a whole tree, so they move its leaf area by no more than this."""


def area_ratios(collection: Collection) -> Floats:
    """Leaf area of each tree over what is usual, (trees,); 1 where its leaves or the usual ones were not measured."""
    since_s = int(collection.until_s - SIZE_DAYS_MAX * DAY_S)
    measured: dict[str, tuple[str | None, str | None, float]] = {}
    for tree, variety, species, size in leaf_sizes(since_s, collection.until_s):
        measured[tree] = (variety, species, size)
    by_variety, by_species = defaultdict(list), defaultdict(list)
    for variety, species, size in measured.values():
        by_variety[variety].append(size)
        by_species[species].append(size)
    ratios = np.ones(len(collection.trees))
    for row, card in enumerate(collection.trees):
        variety, species, size = measured.get(card.id, (None, None, 0.0))
        for usual, least in ((by_variety[variety], VARIETY_TREES_MIN), (by_species[species], SPECIES_TREES_MIN)):
            if size and len(usual) >= least:
                ratios[row] = np.clip(size / np.median(usual), SMALLEST, LARGEST)
                break
    return ratios
