"""What all trees of a place and day say together about their common factor, summed up so that trees can be exchanged.

Log-likelihoods add up, so a tree that was counted again is taken out by its former counts and put in by its new ones,
and nobody else has to be looked at.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

DAYS_PADDING = 9
"""Days kept free before the first and after the last, so that no window reaches beyond."""
DAYS_AHEAD = 30
"""Room for the days to come, before the tables have to grow."""


@dataclass
class PeerSums:
    """Sums by place and day; the last place is the whole collection, and unknown places count with the first.

    `likelihood` has shape (places + 1, days, grid), `counts` (places + 1, days); `first_day` is the day of index 0.
    """

    first_day: int
    likelihood: Floats
    counts: Floats

    @classmethod
    def empty(cls, day: Floats, places: int, grid: int) -> PeerSums:
        """Tables for visits of these days (NaN padding) in so many places."""
        known = np.isfinite(day)
        first = int(np.floor(day[known].min())) if known.any() else 0
        last = int(np.floor(day[known].max())) if known.any() else 0
        days = last - first + 1 + 2 * DAYS_PADDING + DAYS_AHEAD
        rows = max(places, 1) + 1
        return cls(first - DAYS_PADDING, np.zeros((rows, days, grid)), np.zeros((rows, days)))

    def covers(self, day: Floats, place: Ints) -> bool:
        """Whether visits of these days and places fit into the tables."""
        known = day[np.isfinite(day)]
        if not len(known):
            return True
        first, last = known.min() - self.first_day, known.max() - self.first_day
        fits = first >= DAYS_PADDING and last < self.counts.shape[1] - DAYS_PADDING
        return bool(fits and place.max(initial=-1) < len(self.counts) - 1)

    def add(self, day: Floats, place: Ints, told: Bools, likelihood: Singles, times: float = 1.0) -> None:
        """Add some trees' counts, arrays of shape (trees, visits) and (trees, visits, grid); `times` −1 takes off."""
        rows = likelihood[told]
        at = self.day_index(day)[told]
        for cell in (np.maximum(place, 0)[told], np.full(len(at), len(self.counts) - 1)):
            flat, inverse = np.unique(cell * self.counts.shape[1] + at, return_inverse=True)
            added = [np.bincount(inverse, weights=rows[:, g], minlength=len(flat)) for g in range(rows.shape[1])]
            self.likelihood.reshape(-1, rows.shape[1])[flat] += times * np.stack(added, axis=1)
            self.counts.reshape(-1)[flat] += times * np.bincount(inverse, minlength=len(flat))

    def day_index(self, day: Floats) -> Ints:
        """Column of each day; padding goes to one that holds nothing."""
        return np.where(np.isfinite(day), np.floor(np.nan_to_num(day)) - self.first_day, DAYS_PADDING).astype(np.int64)

    def around(self, place: Ints, at: Ints, days: Mapping[int, float]) -> Singles:
        """Weighed sums of the days around cells, shape (cells, grid); a day `apart` off weighs `days[apart]`.

        The largest of each row is taken off, which changes no share, so that single precision is fine enough.
        """
        total = np.zeros((len(at), self.likelihood.shape[2]))
        for apart, weight in days.items():
            total += weight * self.likelihood[place, at + apart]
        singles: Singles = (total - total.max(axis=-1, keepdims=True)).astype(np.float32)
        return singles

    def seen_around(self, place: Ints, at: Ints, days: Mapping[int, float]) -> Floats:
        """Number of counts of the days around cells, shape (cells,)."""
        seen: Floats = np.sum([self.counts[place, at + apart] for apart in days], axis=0)
        return seen


def mean_by_cell(value: Floats, day: Floats, place: Ints, at_day: Floats, at_place: Ints) -> Floats:
    """Mean of what some trees' visits say by place and day, looked up for others; 1 where none of them was seen.

    All of shape (trees, visits), the first three of some trees, the last two of those that ask.
    """
    sums = PeerSums.empty(at_day, int(max(place.max(initial=-1), at_place.max(initial=-1))) + 1, 1)
    sums.add(day, place, np.isfinite(day), value[..., None].astype(np.float32))
    rows, at = np.maximum(at_place, 0), sums.day_index(at_day)
    seen = sums.counts[rows, at]
    return np.where(seen > 0, sums.likelihood[rows, at, 0] / np.maximum(seen, 1.0), 1.0)
