"""What the leaf-drop test looks at: visits as arrays, the interval before each visit, and its exposure.

Exposure is leaf-days: leaves at risk times days, as person-years are in the study of rates (Clayton & Kaldor 1987).
Valid for counts at most INTERVAL_DAYS_MAX apart; what lies longer is litter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.kalman import Track
from server.analysis.leaves import leaves_of

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

INTERVAL_DAYS_MIN = 0.25
"""Two visits on one day still leave this much time for a leaf to fall."""
INTERVAL_DAYS_MAX = 45.0
"""Fallen leaves are not told apart from litter after this long."""
LEAVES_DEFAULT = 60.0
"""Leaves of a tree that nobody counted, where no neighbour was counted either; a grower's setting."""


@dataclass(frozen=True)
class Visits:
    """All visits of all trees, shape (trees, visits), padded at the right with NaN days.

    `day` is in days and increasing; `log_leaves` with counting variance `log_var`, NaN where the total was not
    counted; `fallen` since the visit before, NaN where not counted; `place` is an index, −1 unknown; `moved_ago`
    days since the tree's last move at that visit, infinite where never; `moved_weight` 0-1 how hard the move was.
    """

    day: Floats
    log_leaves: Floats
    log_var: Floats
    fallen: Floats
    place: Ints
    moved_ago: Floats
    moved_weight: Floats


@dataclass(frozen=True)
class Exposure:
    """The interval before each visit, shape (trees, visits).

    `days` since the fallen leaves were last picked up (or since the visit before, the first time); `leaf_days` =
    leaves at its start × days; `counted` where a count of fallen leaves can be used; `leaves` at the interval's start.
    """

    days: Floats
    leaf_days: Floats
    leaves: Floats
    counted: Bools


def exposure(visits: Visits, track: Track, typical: float) -> Exposure:
    """Work out leaf-days at risk before each visit, leaves taken from the filtered trend (shape (visits, trees)).

    `typical`: ln(leaves) of a tree that nobody counted yet (`typical_level`).
    """
    trees, n_visits = visits.day.shape
    at_start = _leaves_before(track.level.T, typical)
    days = np.full((trees, n_visits), np.nan)
    since = visits.day[:, 0].copy() if n_visits else np.zeros(trees)
    for j in range(1, n_visits):
        days[:, j] = visits.day[:, j] - since
        picked_up = np.isfinite(visits.fallen[:, j])
        too_old = visits.day[:, j] - since > INTERVAL_DAYS_MAX
        since = np.where(picked_up | too_old, visits.day[:, j], since)
    days = np.where(np.isfinite(days), np.clip(days, INTERVAL_DAYS_MIN, INTERVAL_DAYS_MAX), np.nan)
    leaf_days = at_start * days
    counted = np.isfinite(visits.fallen) & np.isfinite(leaf_days) & (leaf_days > 0)
    return Exposure(days, leaf_days, at_start, counted)


def typical_level(track: Track) -> float:
    """ln(leaves) of the middle tree at its first count; a setting stands in where none was counted."""
    first = _first_level(track.level.T)
    return float(np.nanmedian(first)) if np.isfinite(first).any() else float(np.log(LEAVES_DEFAULT))


def _first_level(level: Floats) -> Floats:
    """Level at each tree's first count; NaN without one."""
    if not level.size:
        return np.full(len(level), np.nan)
    picked: Floats = level[np.arange(len(level)), np.argmax(np.isfinite(level), axis=1)]
    return picked


def _leaves_before(level: Floats, typical: float) -> Floats:
    """Leaves at the visit before each visit; before a tree's first count its first count stands in."""
    before = np.full_like(level, np.nan)
    before[:, 1:] = level[:, :-1]
    first = _first_level(level)
    fill = np.where(np.isfinite(first), first, typical)
    return leaves_of(np.where(np.isfinite(before), before, fill[:, None]))
