"""Runs the analysis over a simulated season, as of any of its days."""

from __future__ import annotations

import numpy as np

from server.analysis.counts import Visits
from server.analysis.leafdrop import DropResult, find_leaf_drop
from server.analysis.leaves import log_counts
from server.analysis.trend import leaf_trends
from tests.analysis.seasons import Season


def judge_season(season: Season, until_day: float = np.inf) -> DropResult:
    """Judge a season from the visits up to `until_day`."""
    seen = season.day <= until_day
    width = max(int(seen.sum(axis=1).max()), 1)
    day = np.where(seen, season.day, np.nan)[:, :width]
    leaves, fallen = (np.where(seen, a, np.nan)[:, :width] for a in (season.leaves, season.fallen))
    moved = season.move_day[:, None]
    ago = np.where(day >= np.nan_to_num(moved, nan=np.inf), day - moved, np.inf)
    visits = Visits(
        day=day,
        log_leaves=log_counts(leaves),
        log_var=season.log_var[:, :width],
        fallen=fallen,
        place=season.place[:, :width],
        moved_ago=np.where(np.isfinite(ago), ago, np.inf),
        moved_weight=np.ones_like(day),
    )
    return find_leaf_drop(visits, leaf_trends(day, visits.log_leaves, visits.log_var).steady)


def alarms_round_by_round(season: Season) -> np.ndarray:
    """Alarm of each tree at each of its visits, as a grower would have seen it: nothing later is looked at."""
    alarms = np.zeros(season.day.shape, dtype=bool)
    for day in season.rounds:
        found = judge_season(season, day + 0.9)
        last = (season.day <= day + 0.9).sum(axis=1) - 1
        for tree in np.flatnonzero(found.alarm & (last >= 0)):
            alarms[tree, last[tree]] = True
    return alarms
