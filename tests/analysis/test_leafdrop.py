"""The leaf-drop test on awkward collections."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.analysis.usual import USUAL_A_DAY, Usual, fit_usual
from tests.analysis.judging import judge_season
from tests.analysis.seasons import Season, Setting, make_season


def by_hand(leaves, fallen, place=0, move_day=np.nan):
    """A season of trees visited every four days."""
    leaves, fallen = np.atleast_2d(np.array(leaves, float)), np.atleast_2d(np.array(fallen, float))
    trees, visits = leaves.shape
    day = np.tile(np.arange(visits) * 4.0, (trees, 1))
    place = np.full(day.shape, place, dtype=np.int64)
    moved, nothing = np.full(trees, move_day), np.zeros(trees)
    return Season(day, leaves, np.full(day.shape, 0.03**2), fallen, place, moved, [], nothing, day[0], nothing)


def test_one_tree_alone_is_judged_by_the_starting_values():
    quiet = judge_season(by_hand([60] * 6, [0, 1, 0, 1, 0, 1]))
    losing = judge_season(by_hand([60, 60, 59, 50, 41, 33], [0, 1, 0, 9, 9, 8]))
    assert not quiet.alarm[0]
    assert losing.alarm[0]
    assert losing.onset[0] == 3


def test_a_tree_that_was_never_counted_is_no_error():
    found = judge_season(by_hand([[60] * 4, [np.nan] * 4], [[0, 1, 0, 0], [np.nan] * 4]))
    assert not found.alarm.any()
    assert np.isfinite(found.probability).all()


def test_fallen_leaves_count_without_any_total():
    found = judge_season(by_hand([np.nan] * 6, [0, 1, 0, 14, 12, 9]))
    assert found.alarm[0]


def test_unknown_places_do_as_well():
    known = make_season(Setting(trees=20, slow=2, sudden=2), 9)
    lost = replace(known, place=np.full_like(known.place, -1))
    a, b = judge_season(known), judge_season(lost)
    assert (a.alarm != b.alarm).sum() <= 1


def test_an_empty_collection_is_no_error():
    empty = np.zeros((0, 0))
    season = Season(
        empty, empty, empty, empty, empty.astype(np.int64), np.zeros(0), [], np.zeros(0), *[np.zeros(0)] * 2
    )
    assert len(find(season).alarm) == 0


def find(season):
    from server.analysis.counts import Visits
    from server.analysis.leafdrop import find_leaf_drop
    from server.analysis.trend import leaf_trends

    nothing = season.day
    visits = Visits(nothing, nothing, nothing, nothing, season.place, nothing, nothing)
    return find_leaf_drop(visits, leaf_trends(nothing, nothing, nothing).steady)


def test_half_a_place_dropping_after_one_move_is_not_taken_for_season():
    """Eight moved on one day, five drop: each alarms, however alone they stand in their new place."""
    calm = [[60] * 8] * 12
    quiet = [[0, 1, 0, 1, 0, 0, 1, 0]] * 12
    drop = [[60, 60, 60, 60, 60, 48, 38, 33]] * 5
    loss = [[0, 1, 0, 1, 0, 12, 9, 5]] * 5
    season = by_hand(calm + drop + [[60] * 8] * 3, quiet + loss + [[0, 1, 0, 1, 0, 1, 0, 1]] * 3)
    season.place[12:, 5:] = 1
    season.move_day[12:] = 17.0
    found = judge_season(season)
    assert found.alarm[12:17].all()
    assert not found.alarm[:12].any() and not found.alarm[17:].any()


def test_what_is_usual_is_learned_from_simulated_trees():
    """Gamma-Poisson maximum likelihood recovers mean and shape that made the counts."""
    rng = np.random.default_rng(8)
    leaf_days = np.full((400, 30), 240.0)
    own = rng.gamma(5.0, 0.004 / 5.0, 400)
    fallen = rng.poisson(own[:, None] * leaf_days).astype(float)
    found = fit_usual(fallen, leaf_days, np.ones_like(fallen))
    assert found.mean == pytest.approx(0.004, rel=0.08)
    assert found.shape == pytest.approx(5.0, rel=0.3)


def test_nothing_counted_leaves_the_starting_values():
    nothing = np.full((3, 4), np.nan)
    assert fit_usual(nothing, nothing, np.ones((3, 4))) == Usual()
    assert Usual().own_rate(np.zeros(1), np.zeros(1))[0] == pytest.approx(USUAL_A_DAY)
