"""The season's levels, ranks and verdicts: known answers, simulated truths, and no verdict on one tree-season."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.analysis.season import WEIGHTS, cells_of, level, standing, verdict
from server.analysis.tree_seasons import TreeSeasons
from tests.analysis.trial import GLASS, OPEN

MEASURES = tuple(WEIGHTS)


def season(seed: int, best_by: float = 0.0, kinds: int = 6, trees: int = 5, sd: float = 100.0) -> TreeSeasons:
    """So many varieties in the open; yields around 500 g, those of variety 0 `best_by` above the others' truth."""
    rng = np.random.default_rng(seed)
    variety = np.repeat(np.arange(kinds), trees)
    n = len(variety)
    truth = 500.0 + rng.normal(0, 60.0, kinds)
    truth[0] = 500.0 + best_by
    whole = np.zeros(n, dtype=np.int64)
    values = {name: np.full(n, np.nan) for name in MEASURES}
    values["yield_g"] = truth[variety] + rng.normal(0, sd, n)
    return TreeSeasons(np.arange(n), variety, whole, whole + 2025, whole + OPEN, np.zeros(n), values)


def test_a_cell_is_a_variety_under_a_shelter() -> None:
    seasons = replace(season(0, kinds=2, trees=2), shelter=np.array([OPEN, GLASS, OPEN, -1]))
    cells = cells_of(seasons)
    named = [(int(cells.variety[c]), int(cells.shelter[c])) for c in cells.of]
    assert named == [(0, OPEN), (0, GLASS), (1, OPEN), (1, -1)]


def test_level_intervals_cover() -> None:
    hits: list[bool] = []
    for seed in range(120):
        rng = np.random.default_rng([seed, 1])
        seasons = season(seed)
        truth = rng.normal(500.0, 80.0, 6)
        seasons.values["yield_g"][:] = truth[seasons.variety] + rng.normal(0, 100.0, len(seasons.tree))
        found = level(seasons, cells_of(seasons), "yield_g")
        for cell in range(6):
            _, low, high = found.interval(cell)
            hits.append(low <= truth[cell] <= high)
    assert 0.86 <= np.mean(hits) <= 0.94


def test_years_are_taken_off_before_cells_are_levelled() -> None:
    """A kind seen only in the poor year stands as high as one seen only in the good year, by what both share."""
    seasons = season(1, kinds=3, trees=8, sd=1.0)
    year = np.array([2024] * 8 + [2025] * 8 + [2024, 2025] * 4)
    values = np.where(year == 2025, 600.0, 100.0) + np.random.default_rng(2).normal(0, 1.0, 24)
    seasons = replace(seasons, year=year, values={**seasons.values, "yield_g": values})
    found = level(seasons, cells_of(seasons), "yield_g")
    assert found.mean == pytest.approx([600.0, 600.0, 600.0], abs=3.0)


def standing_of(seasons: TreeSeasons):  # type: ignore[no-untyped-def]
    cells = cells_of(seasons)
    return standing({name: level(seasons, cells, name) for name in MEASURES}, len(cells.variety))


def test_a_kind_that_stands_out_is_first_and_surely_so() -> None:
    place = standing_of(season(3, best_by=600.0))
    assert place.rank[0] == place.rank_low[0] == place.rank_high[0] == 1
    assert place.above_middle[0] > 0.99
    assert sorted(place.rank.tolist()) == [1, 2, 3, 4, 5, 6]


def test_ranks_of_kinds_that_do_not_differ_are_wide() -> None:
    seasons = season(4)
    seasons.values["yield_g"][:] = 500.0 + np.random.default_rng(4).normal(0, 100.0, len(seasons.tree))
    place = standing_of(seasons)
    assert (place.rank_high - place.rank_low).min() >= 3


def test_rank_intervals_hold_the_true_rank() -> None:
    hits: list[bool] = []
    for seed in range(120):
        rng = np.random.default_rng([seed, 2])
        seasons, truth = season(seed), rng.normal(500.0, 120.0, 6)
        seasons.values["yield_g"][:] = truth[seasons.variety] + rng.normal(0, 100.0, len(seasons.tree))
        place = standing_of(seasons)
        true_rank = np.argsort(np.argsort(-truth)) + 1
        hits += ((place.rank_low <= true_rank) & (true_rank <= place.rank_high)).tolist()
    # Ranks are whole: a range of them holds what it states or somewhat more.
    assert 0.87 <= np.mean(hits) <= 0.98


def test_less_trouble_and_care_count_for_a_kind() -> None:
    seasons = season(5)
    seasons.values["yield_g"][:] = 500.0 + np.random.default_rng(5).normal(0, 5.0, len(seasons.tree))
    seasons.values["care"][:] = np.where(seasons.variety == 0, 20.0, 5.0) + np.tile([0.0, 1.0, 2.0, 1.0, 0.0], 6)
    place = standing_of(seasons)
    assert place.rank[0] == 6
    assert place.points["care"][0] < 0 < place.points["care"][1]


def test_the_same_records_give_the_same_ranks() -> None:
    one, other = standing_of(season(6)), standing_of(season(6))
    assert (one.above_middle == other.above_middle).all()


def test_a_kind_without_a_measure_is_less_sure_of_its_rank() -> None:
    seasons = season(7, best_by=600.0)
    seasons.values["yield_g"][seasons.variety == 0] = np.nan
    place = standing_of(seasons)
    assert place.rank_high[0] - place.rank_low[0] >= 4


def test_nothing_measured_leaves_every_kind_in_the_middle() -> None:
    seasons = season(8)
    seasons.values["yield_g"][:] = np.nan
    place = standing_of(seasons)
    assert (place.above_middle == 0.5).all()
    assert (place.rank_low == 1).all() and (place.rank_high == len(place.rank)).all()


@pytest.mark.parametrize(
    ("above", "tree_seasons", "kinds", "judged", "expected"),
    [
        (0.95, 4, 6, True, "keep"),
        (0.05, 4, 6, True, "let go"),
        (0.6, 4, 6, True, "try again"),
        (1.0, 1, 6, True, "try again"),
        (0.0, 1, 6, True, "try again"),
        (1.0, 4, 1, True, "try again"),
        (1.0, 4, 6, False, "try again"),
    ],
)
def test_verdicts(above: float, tree_seasons: int, kinds: int, judged: bool, expected: str) -> None:
    assert verdict(above, tree_seasons, kinds, judged) == expected
