"""Where a tree's counts move more than the common run: what its level gains on top there, so that bands stay honest.

The pooled variances are those of calm trees in calm weeks. A tree that sheds, or a place whose leaves fall together,
moves faster, and a filter that knows only calm trees lags behind and is too sure. Innovations say so: where their
squares exceed what the filter expects, the excess is added to the level's random walk (innovation-based adaptation,
Mehra 1972, IEEE Trans. Automat. Contr. 17:693-698).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from server.analysis.kalman import Track, day_gaps

Floats = NDArray[np.float64]

# Tuned on simulated seasons (tests/benchmarks/test_coverage.py); no published source.
WINDOW_DAYS = 10.0
"""Visits so many days before and after are looked at together: one surprise may be chance, several are not."""
VISITS_APART_MAX = 4
UNREST_RATIO = 1.5
"""Mean squared innovation over its expected square from which on a tree counts as restless; about 1 while calm."""


def extra_movement(track: Track, day: Floats) -> Floats:
    """Variance that the level of ln(leaves) gains in the gap before each visit beyond the pooled one, (trees, visits).

    `track` is the filtered trend by the pooled variances, `day` the visits' days, shape (trees, visits), NaN padding.
    0 where the counts around a visit (WINDOW_DAYS, up to VISITS_APART_MAX visits on either side) moved as expected.
    """
    v, f = track.innovation.T, track.innovation_var.T
    seen = np.isfinite(v)
    ratio, excess = np.where(seen, v * v / f, 0.0), np.where(seen, v * v - f, 0.0)
    gaps = day_gaps(day)
    ratio, count, excess, days = _windowed(day, ratio, seen.astype(float), excess, gaps)
    restless = ratio > UNREST_RATIO * np.maximum(count, 1.0)
    per_day = np.where(restless, np.maximum(excess, 0.0) / np.maximum(days, 1.0), 0.0)
    extra: Floats = per_day * gaps
    return extra


def _windowed(day: Floats, *values: Floats) -> list[Floats]:
    """Sum values over the visits near each visit, its own included."""
    sums = [value.copy() for value in values]
    for apart in range(1, min(VISITS_APART_MAX, day.shape[1] - 1) + 1):
        late, early = slice(apart, None), slice(None, -apart)
        # Padding compares as not near.
        near = day[:, late] - day[:, early] <= WINDOW_DAYS
        for total, value in zip(sums, values, strict=True):
            total[:, early] += np.where(near, value[:, late], 0.0)
            total[:, late] += np.where(near, value[:, early], 0.0)
    return sums
