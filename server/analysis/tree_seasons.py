"""Tree-seasons: what one tree did in one growing year, under the shelter where it grew; what comparisons work on.

The order of covers by warmth is common practice, no published source; days as moments since 1970.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

WARMTH = {"open": 0, "ground": 0, "shade": 0, "porch": 1, "low_tunnel": 2, "polytunnel": 3, "glasshouse": 4}
WARMTH |= {"indoors": 5}
"""Covers from cold to warm in spring; common practice, no published source."""
SHELTERS = tuple(WARMTH)
UNKNOWN = -1


@dataclass(frozen=True)
class TreeSeasons:
    """One entry a tree and growing year, each array of shape (entries,).

    `tree`, `variety`, `species` number those; `shelter` is an index into SHELTERS, UNKNOWN where no cover is on
    record; `year` the growing year; `head_start_days` under a warmer cover before the move out; `values` the measures
    by name, NaN where not known.
    """

    tree: Ints
    variety: Ints
    species: Ints
    year: Ints
    shelter: Ints
    head_start_days: Floats
    values: dict[str, Floats]

    def where(self, kept: Bools) -> TreeSeasons:
        """Only some of the entries."""
        return TreeSeasons(
            self.tree[kept],
            self.variety[kept],
            self.species[kept],
            self.year[kept],
            self.shelter[kept],
            self.head_start_days[kept],
            {name: values[kept] for name, values in self.values.items()},
        )


@dataclass(frozen=True)
class Stays:
    """Where trees stood, one entry a stay, by tree and time: tree row, cover (index into SHELTERS), days since 1970."""

    tree: Ints
    cover: Ints
    from_day: Floats
    to_day: Floats


def sheltered(stays: Stays, tree: Ints, from_day: Floats, to_day: Floats, woke_day: Floats) -> tuple[Ints, Floats]:
    """Give the shelter and the head start in days of each tree-season, which grew from `from_day` to `to_day`.

    The shelter is the cover under which the tree spent most of that time; the head start, its days awake under warmer
    covers before the longest stay there began (NaN where no cover is known). `stays` must be ordered by tree; a stay
    under an unknown cover counts for nothing. `woke_day` NaN: awake from the beginning.
    """
    first = np.searchsorted(stays.tree, tree)
    count = np.searchsorted(stays.tree, tree, side="right") - first
    entry = np.repeat(np.arange(len(tree)), count)
    stay = np.arange(len(entry)) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
    cover = stays.cover[stay]
    begins, ends = stays.from_day[stay], stays.to_day[stay]
    spent = np.clip(np.minimum(ends, to_day[entry]) - np.maximum(begins, from_day[entry]), 0.0, None)
    spent = np.where(cover >= 0, spent, 0.0)
    days = np.zeros((len(tree), len(SHELTERS)))
    np.add.at(days, (entry, np.maximum(cover, 0)), spent)
    known = days.max(axis=1, initial=0.0) > 0
    shelter = np.where(known, days.argmax(axis=1), UNKNOWN)
    there = (cover == shelter[entry]) & (spent > 0)
    longest = np.zeros(len(tree))
    np.maximum.at(longest, entry[there], spent[there])
    moved_out = np.full(len(tree), np.inf)
    main = there & (spent >= longest[entry])
    np.minimum.at(moved_out, entry[main], begins[main])
    warmth = np.array([WARMTH[name] for name in SHELTERS])
    warmer = (cover >= 0) & (warmth[cover] > warmth[shelter[entry]])
    awake = np.where(np.isfinite(woke_day), woke_day, from_day)
    ahead = np.clip(np.minimum(ends, moved_out[entry]) - np.maximum(begins, awake[entry]), 0.0, None)
    head_start = np.bincount(entry[warmer], weights=ahead[warmer], minlength=len(tree))
    return shelter, np.where(known, head_start, np.nan)
