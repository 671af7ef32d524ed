"""What the leaf-drop test must reach, on simulated seasons.

The quick checks judge whole seasons at once and read the odds after each visit; the benchmark lives through them
round by round, learning anew at each and looking at nothing later, as a grower would.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.analysis.judging import alarms_round_by_round, judge_season
from tests.analysis.seasons import Season, Setting, make_season

MIXED = Setting(slow=7, sudden=5)
UNCOUNTED = Setting(sudden=6, uncounted=1.0)
COMMON = Setting(common_place=1)


@cache
def at_once(setting: Setting, seed: int) -> tuple[Season, np.ndarray]:
    """A season and its alarms after each visit, with what is usual learned from the whole season."""
    season = make_season(setting, seed)
    return season, judge_season(season).alarms


@cache
def round_by_round(setting: Setting, seed: int) -> tuple[Season, np.ndarray]:
    """A season and its alarms as a grower would have seen them."""
    season = make_season(setting, seed)
    return season, alarms_round_by_round(season)


Lived = Callable[[Setting, int], tuple[Season, np.ndarray]]


def delays(seasons: list[tuple[Season, np.ndarray]], kind: str, begun_days: float = 0.5) -> np.ndarray:
    """Visits from the trouble to the alarm, one a tree; 99 where it was missed."""
    found = []
    for season, alarms in seasons:
        for tree in np.flatnonzero([t == kind for t in season.trouble]):
            after = np.flatnonzero(season.day[tree] > season.trouble_day[tree] + begun_days)
            hit = np.flatnonzero(alarms[tree][after])
            found.append(hit[0] + 1 if len(hit) else 99)
    return np.array(found)


def false_share(seasons: list[tuple[Season, np.ndarray]], place: int | None = None) -> float:
    """Share of sound trees (in one place, where given) that alarmed at any time of the season."""
    hits = []
    for season, alarms in seasons:
        for tree in np.flatnonzero([t == "sound" for t in season.trouble]):
            seen = np.isfinite(season.day[tree])
            if place is None or season.place[tree, seen][-1] == place:
                hits.append(alarms[tree].any())
    return float(np.mean(hits))


def check_mixed(lived: Lived, seeds: range) -> None:
    """Slow and sudden losses among sound trees."""
    seasons = [lived(MIXED, seed) for seed in seeds]
    slow, sudden = delays(seasons, "slow"), delays(seasons, "sudden", 1.5)
    missed = np.mean(np.concatenate([slow, sudden]) == 99)
    false = false_share(seasons)
    print(
        f"slow: median {np.median(slow):.0f} visits of {len(slow)}; sudden: first visit {np.mean(sudden == 1):.3f} of "
        f"{len(sudden)}; missed {missed:.3f}; false {false:.3f}"
    )
    assert np.median(slow) <= 5
    assert np.mean(sudden == 1) >= 0.95
    assert missed <= 0.05
    assert false <= 0.05


def check_common(lived: Lived, seeds: range) -> None:
    """A leaf fall that a whole place shares."""
    share = false_share([lived(COMMON, seed) for seed in seeds], place=1)
    print(f"common fall: {share:.3f} of the place alarmed")
    assert share <= 0.10


def check_uncounted(lived: Lived, seeds: range) -> None:
    """Sudden losses where nobody counted the fallen, among trees of 15 leaves that lost three."""
    seasons = [lived(UNCOUNTED, seed) for seed in seeds]
    sudden = delays(seasons, "sudden", 1.5)
    print(f"uncounted: first visit {np.mean(sudden == 1):.3f} of {len(sudden)}; false {false_share(seasons):.3f}")
    assert np.mean(sudden == 1) >= 0.90
    assert false_share(seasons) <= 0.05


def test_losses_are_found_early_and_few_sound_trees_alarm():
    check_mixed(at_once, range(504, 528))


def test_common_leaf_fall_alarms_few():
    check_common(at_once, range(702, 714))


def test_sudden_loss_is_found_by_the_totals_where_nobody_counted():
    check_uncounted(at_once, range(800, 808))


def test_learning_anew_each_round_alarms_like_looking_back():
    """What was learned later hardly changes what was said earlier."""
    setting = replace(MIXED, trees=40, days=60)
    _, late = at_once(setting, 9)
    _, early = round_by_round(setting, 9)
    assert np.mean(late.any(axis=1) != early.any(axis=1)) <= 0.1


@pytest.mark.benchmark
def test_many_seasons_round_by_round():
    """The same targets over other seasons; prints what was reached."""
    check_common(round_by_round, range(720, 728))
    check_uncounted(round_by_round, range(810, 818))
    check_mixed(round_by_round, range(600, 616))


def test_the_onset_is_found_near_the_truth():
    late = []
    for seed in range(507, 511):
        season, found = make_season(MIXED, seed), judge_season(make_season(MIXED, seed))
        for tree in np.flatnonzero(found.alarm & np.array([t == "slow" for t in season.trouble])):
            late.append(season.day[tree, found.onset[tree]] - season.trouble_day[tree])
    assert len(late) >= 10
    assert abs(float(np.median(late))) <= 7


def test_one_quiet_visit_clears_no_alert():
    season = make_season(MIXED, 500)
    tree = season.trouble.index("sudden")
    after = int(np.flatnonzero(season.day[tree] > season.trouble_day[tree] + 1.5)[0])
    season.fallen[tree, after + 1] = 0.0
    found = judge_season(season, float(season.day[tree, after + 1]))
    assert found.alarm[tree]
