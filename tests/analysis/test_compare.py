"""Comparisons of shelters and head starts: known answers, silence where nothing can be told, and coverage."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from server.analysis.compare import HEAD_START, NO_HEAD_START, Effects, compare
from server.analysis.tree_seasons import SHELTERS, Stays, TreeSeasons, sheltered
from tests.analysis.trial import GLASS, OPEN, trial

SEASONS = 150
SEASONS_LONG = 600


def between(found: list[Effects], shelter: str, against: str) -> Effects:
    (one,) = [each for each in found if (each.shelter, each.against) == (shelter, against)]
    return one


def small(value: list[float], shelter: list[int], variety: list[int] | None = None) -> TreeSeasons:
    n = len(value)
    whole = np.zeros(n, dtype=np.int64)
    return TreeSeasons(
        tree=np.arange(n),
        variety=np.array(variety or [0] * n),
        species=whole,
        year=whole + 2025,
        shelter=np.array(shelter),
        head_start_days=np.zeros(n),
        values={"leaves": np.array(value)},
    )


def test_one_variety_gets_the_two_sample_t_interval() -> None:
    """Against scipy's own t interval of two samples of equal variance."""
    glass, outside = [52.0, 60.0, 55.0, 63.0], [41.0, 47.0, 50.0]
    found = between(compare(small(glass + outside, [GLASS] * 4 + [OPEN] * 3), "leaves"), "glasshouse", "open")
    expected = stats.ttest_ind(glass, outside).confidence_interval(0.9)
    assert found.pooled is not None
    assert found.raw[0] == pytest.approx(57.5 - 46.0)
    assert found.pooled.low[0] == pytest.approx(expected.low, abs=1e-3)
    assert found.pooled.high[0] == pytest.approx(expected.high, abs=1e-3)
    assert found.told() == ["more"]
    assert found.trees.tolist() == [[4, 3]]


def test_no_direction_is_assumed() -> None:
    made = trial(3)
    turned = replace(made.seasons, values={"leaves": -made.seasons.values["leaves"]})
    for one, other in zip(compare(made.seasons, "leaves"), compare(turned, "leaves"), strict=True):
        assert one.pooled is not None and other.pooled is not None
        assert one.pooled.mean == pytest.approx(-other.pooled.mean, abs=1e-6)
        assert one.pooled.low == pytest.approx(-other.pooled.high, abs=1e-6)


def test_nothing_is_said_with_one_tree_on_a_side_however_large_the_difference() -> None:
    seasons = small([500.0, 1.0, 2.0, 3.0, 1.0], [GLASS] + [OPEN] * 4)
    (found,) = compare(seasons, "leaves")
    assert found.pooled is not None and found.pooled.low[0] > 0
    assert found.told() == ["unknown"]


def test_without_a_second_tree_anywhere_there_is_no_interval() -> None:
    (found,) = compare(small([9.0, 4.0], [GLASS, OPEN]), "leaves")
    assert found.pooled is None
    assert found.raw[0] == pytest.approx(5.0)
    assert found.told() == ["unknown"]


def test_one_shelter_or_no_measure_gives_no_comparison() -> None:
    assert compare(small([9.0, 4.0], [OPEN, OPEN]), "leaves") == []
    assert compare(small([np.nan, np.nan], [GLASS, OPEN]), "leaves") == []
    assert compare(small([], []), "leaves") == []


def test_what_a_year_did_to_all_trees_is_no_difference_between_shelters() -> None:
    """Glass was tried in the good year mostly, the open in the poor one; only the common trees tell the years apart."""
    value, shelter, year, tree = [], [], [], []
    rng = np.random.default_rng(4)
    for number in range(24):
        for y, luck in ((2024, 0.0), (2025, 100.0)):
            stands = GLASS if number % 2 else OPEN
            if number < 12 or (y == 2025) == (stands == GLASS):
                value.append(50.0 + luck + (8.0 if stands == GLASS else 0.0) + rng.normal(0, 1.0))
                shelter.append(stands)
                year.append(y)
                tree.append(number)
    seasons = replace(small(value, shelter), year=np.array(year), tree=np.array(tree))
    (found,) = compare(seasons, "leaves")
    assert found.raw[0] == pytest.approx(8.0, abs=2.0)
    assert found.trees.tolist() == [[12, 12]]


def test_years_of_one_tree_are_not_counted_as_so_many_trees() -> None:
    """Ten seasons of the same four trees say hardly more than the four trees: their own luck stays."""
    rng = np.random.default_rng(5)
    own, stands = rng.normal(0, 10.0, 4), np.array([GLASS, GLASS, OPEN, OPEN])
    once = small(list(own), list(stands))
    repeated = small(list(np.tile(own, 10) + rng.normal(0, 0.1, 40)), list(np.tile(stands, 10)))
    repeated = replace(repeated, tree=np.tile(np.arange(4), 10), year=np.repeat(np.arange(2010, 2020), 4))
    (a,), (b,) = compare(once, "leaves"), compare(repeated, "leaves")
    assert a.pooled is not None and b.pooled is not None
    assert b.pooled.high[0] - b.pooled.low[0] == pytest.approx(a.pooled.high[0] - a.pooled.low[0], rel=0.05)


def test_a_head_start_is_told_within_its_shelter() -> None:
    made = trial(1, varieties=6, spread=2.0, tree_sd=3.0, head_start=True)
    found = between(compare(made.seasons, "leaves"), HEAD_START, NO_HEAD_START)
    assert found.pooled is not None
    assert found.days == 30.0
    assert found.pooled.common_mean == pytest.approx(12.0, abs=4.0)
    assert "more" in found.told() and "less" not in found.told()


def coverage(shelter: str, against: str, seasons: int, **shape: float) -> float:
    hits: list[bool] = []
    for seed in range(seasons):
        made = trial(seed, **shape)  # type: ignore[arg-type]
        found = between(compare(made.seasons, "leaves"), shelter, against)
        assert found.pooled is not None
        truth = made.truth[found.variety]
        hits += ((found.pooled.low <= truth) & (truth <= found.pooled.high)).tolist()
    return float(np.mean(hits))


# Varieties that all answer alike, differ as much as trees do, and differ more: the intervals hold in each case.
SHAPES = [{"spread": 0.0}, {"spread": 10.0}, {"spread": 40.0}, {"years": 3}, {"varieties": 3}]


@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_stated_intervals_cover(shape: dict[str, float]) -> None:
    assert 0.86 <= coverage("glasshouse", "open", SEASONS, **shape) <= 0.94


@pytest.mark.benchmark
@pytest.mark.parametrize("shape", SHAPES, ids=str)
def test_stated_intervals_cover_over_many_seasons(shape: dict[str, float]) -> None:
    covered = coverage("glasshouse", "open", SEASONS_LONG, **shape)
    print(f"\n{shape}: 90 % intervals covered {100 * covered:.1f} %, {SEASONS_LONG} simulated seasons")
    assert 0.87 <= covered <= 0.93


@pytest.mark.benchmark
def test_head_start_intervals_cover_over_many_seasons() -> None:
    covered = coverage(HEAD_START, NO_HEAD_START, SEASONS_LONG, head_start=True)
    print(f"\nhead start: 90 % intervals covered {100 * covered:.1f} %, {SEASONS_LONG} simulated seasons")
    assert 0.87 <= covered <= 0.93


def test_pooling_shortens_intervals_where_varieties_agree() -> None:
    lengths: dict[int, list[float]] = {1: [], 8: []}
    for seed in range(40):
        made = trial(seed, spread=0.0)
        for varieties, seen in lengths.items():
            kept = made.seasons.where(made.seasons.variety < varieties)
            found = between(compare(kept, "leaves"), "glasshouse", "open")
            if found.pooled is not None:
                seen.append(float(found.pooled.high[0] - found.pooled.low[0]))
    assert np.mean(lengths[8]) < 0.85 * np.mean(lengths[1])


class TestShelter:
    TUNNEL = SHELTERS.index("polytunnel")

    def stays(self, *rows: tuple[int, int, float, float]) -> Stays:
        table = np.array(rows, dtype=float)
        return Stays(table[:, 0].astype(int), table[:, 1].astype(int), table[:, 2], table[:, 3])

    def one(self, stays: Stays, woke: float = np.nan) -> tuple[int, float]:
        shelter, days = sheltered(stays, np.array([0]), np.array([100.0]), np.array([300.0]), np.array([woke]))
        return int(shelter[0]), float(days[0])

    def test_the_cover_of_most_of_the_growing_time_counts(self) -> None:
        assert self.one(self.stays((0, GLASS, -np.inf, 190.0), (0, OPEN, 190.0, np.inf)))[0] == OPEN
        assert self.one(self.stays((0, GLASS, -np.inf, 210.0), (0, OPEN, 210.0, np.inf)))[0] == GLASS

    def test_stays_under_one_cover_are_added_up(self) -> None:
        stays = self.stays((0, OPEN, 0.0, 160.0), (0, GLASS, 160.0, 240.0), (0, OPEN, 240.0, 300.0))
        assert self.one(stays)[0] == OPEN

    def test_a_head_start_is_the_time_awake_under_a_warmer_cover_before_the_move_out(self) -> None:
        stays = self.stays((0, GLASS, -np.inf, 130.0), (0, OPEN, 130.0, np.inf))
        assert self.one(stays) == (OPEN, 30.0)
        assert self.one(stays, woke=118.0) == (OPEN, 12.0)
        assert self.one(stays, woke=131.0) == (OPEN, 0.0)

    def test_going_back_under_cover_in_autumn_is_no_head_start(self) -> None:
        assert self.one(self.stays((0, OPEN, 0.0, 250.0), (0, GLASS, 250.0, np.inf))) == (OPEN, 0.0)

    def test_coming_from_a_colder_cover_is_no_head_start(self) -> None:
        assert self.one(self.stays((0, OPEN, 0.0, 130.0), (0, self.TUNNEL, 130.0, np.inf))) == (self.TUNNEL, 0.0)

    def test_an_unknown_cover_tells_nothing(self) -> None:
        shelter, days = self.one(self.stays((0, -1, 0.0, np.inf)))
        assert shelter == -1 and np.isnan(days)
        assert self.one(self.stays((0, -1, 0.0, 280.0), (0, OPEN, 280.0, np.inf)))[0] == OPEN

    def test_each_tree_is_told_by_its_own_stays(self) -> None:
        stays = self.stays((0, GLASS, 0.0, np.inf), (2, OPEN, 0.0, np.inf))
        tree = np.array([2, 0, 1])
        shelter, _ = sheltered(stays, tree, np.full(3, 100.0), np.full(3, 300.0), np.full(3, np.nan))
        assert shelter.tolist() == [OPEN, GLASS, -1]
