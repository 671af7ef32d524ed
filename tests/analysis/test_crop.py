"""Crop against leaves: facts of the trade, published needs, intervals that cover, brebas first, refusals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from server.analysis.crop import Tree, can_say, crop_against_leaves, damped_days
from server.analysis.species_table import species_table

FIG = species_table()["fig"].figures["leaves_per_fruit"]
APPLE = species_table()["apple"].figures["leaves_per_fruit"]


def _trees(
    *rows: tuple[float, float, float], need: float = FIG.value, slope: float = 0.0, log_sd: float = 0.04
) -> Tree:
    """Trees of (leaves, brebas, main fruit) with a fig's need and an even trend."""
    leaves, breba, main = np.array(rows, dtype=float).T
    n = len(leaves)

    def all_of(value: float | None) -> np.ndarray:
        return np.full(n, np.nan if value is None else value)

    return Tree(
        *(leaves, all_of(log_sd), all_of(slope), all_of(0.004), breba, main),
        *(all_of(need), all_of(FIG.low), all_of(FIG.high), all_of(1.0)),
    )


def test_four_brebas_cost_a_small_tree_growth_and_twelve_to_fifteen_cost_it_severely() -> None:
    """Four shoots with three to four leaves each, as a month after waking; common practice, no published source."""
    found = crop_against_leaves(_trees((14, 0, 0), (14, 4, 0), (14, 12, 0), (14, 15, 0), slope=0.03))
    assert found.watch.tolist() == [False, True, True, True]
    assert found.act.tolist() == [False, False, True, True]
    assert 1 <= found.remove_breba[1] <= 3
    assert found.load[2] >= 3.0


def test_a_full_set_of_one_fruit_a_node_is_more_than_its_own_leaves_feed_where_shoots_stay_short() -> None:
    """One fruit a node is a full set: common practice. Set at 5 to 15 cm, shoots have 2 to 6 leaves for as many fruits;
    in a normal year fruit sets from 25 to 30 cm on, above ten leaves that carry none.
    """
    forced = _trees((6 * 5, 0, 6 * 5), slope=0.0)
    normal = _trees((6 * 16, 0, 6 * 4), slope=0.005)
    assert crop_against_leaves(forced).act.tolist() == [True]
    assert crop_against_leaves(normal).watch.tolist() == [False]


def test_apple_needs_ten_leaves_a_fruit() -> None:
    """On M.9 ten mature leaves a fruit; the table's figure, published."""
    tree = replace(
        _trees((300, 0, 30), (300, 0, 60), need=APPLE.value), need_low=np.full(2, np.nan), need_high=np.full(2, np.nan)
    )
    found = crop_against_leaves(tree)
    assert found.leaves_per_fruit.tolist() == [10.0, 5.0]
    assert found.remove_main[1] == pytest.approx(30, abs=2)
    assert found.load[0] == pytest.approx(1.0, abs=0.03)
    assert found.act.tolist() == [False, True]


def test_larger_leaves_feed_more() -> None:
    tree = _trees((60, 0, 20))
    twice = crop_against_leaves(replace(tree, area_ratio=np.array([2.0])))
    assert crop_against_leaves(tree).load[0] == pytest.approx(2 * twice.load[0], rel=1e-9)


def test_brebas_come_off_first() -> None:
    found = crop_against_leaves(_trees((40, 10, 30), (200, 10, 45), (200, 2, 100)))
    assert found.remove_breba.tolist()[0] == 10
    assert 15 <= found.remove_main[0] <= 25
    assert found.remove_breba[1] > 0
    assert found.remove_main[1] == 0
    assert found.remove_breba[2] == 2
    np.testing.assert_array_equal(found.surplus, found.remove_breba + found.remove_main)
    assert np.all(found.surplus_range[0] <= found.surplus)
    assert np.all(found.surplus <= found.surplus_range[1])


def test_never_more_is_taken_than_hangs_there() -> None:
    rng = np.random.default_rng(1)
    rows = [(float(a), float(b), float(c)) for a, b, c in rng.integers(0, 60, (400, 3))]
    tree = _trees(*rows)
    found = crop_against_leaves(tree)
    assert np.all(found.remove_breba_range[1] <= tree.fruit_breba)
    assert np.all(found.remove_main_range[1] <= tree.fruit_main)
    assert np.all(found.surplus_range[0] >= 0)


def test_a_growing_tree_is_given_its_leaves_to_come_and_a_falling_one_not() -> None:
    rows = (60.0, 0.0, 20.0)
    grown, even, fallen = (crop_against_leaves(_trees(rows, slope=slope)) for slope in (0.02, 0.0, -0.03))
    assert grown.leaves_to_come[0] > 60 > fallen.leaves_to_come[0]
    assert grown.surplus[0] < even.surplus[0] < fallen.surplus[0]


def test_a_damped_trend_adds_up_day_by_day() -> None:
    """The h-step forecast of Gardner & McKenzie 1985 is level + (φ + φ² + … + φʰ)·trend."""
    assert damped_days(4, 0.5) == pytest.approx(0.5 + 0.25 + 0.125 + 0.0625)


def test_too_little_counted_gives_no_advice() -> None:
    tree = _trees((60, 4, 20), (60, np.nan, 20), (60, np.nan, np.nan), (np.nan, 4, 20), (60, 4, 20))
    tree = replace(tree, log_sd=np.array([0.04, 0.04, 0.04, 0.04, 0.9]))
    assert can_say(tree).tolist() == [True, True, False, False, False]
    found = crop_against_leaves(tree)
    assert np.isfinite(found.surplus).tolist() == [True, True, False, False, False]
    assert not found.watch[2:].any()


def test_no_fruit_is_no_burden() -> None:
    found = crop_against_leaves(_trees((60, 0, 0)))
    assert found.surplus[0] == found.load[0] == found.probability[0] == 0.0
    assert np.isnan(found.leaves_per_fruit[0])


def test_intervals_cover_what_was_simulated() -> None:
    """True leaves, trend, fruit and need are drawn from what the counts allow; 4000 trees, coverage of 90 %."""
    rng, n = np.random.default_rng(4), 4000
    leaves, main, slope = rng.uniform(30, 200, n), rng.uniform(60, 120, n), rng.normal(0.0, 0.008, n)
    need_sd = np.log(FIG.high / FIG.low) / (2 * 1.6449)
    seen_leaves = leaves * np.exp(0.1 * rng.standard_normal(n))
    seen_main = np.round(main * (1 + 0.05 * rng.standard_normal(n)))
    seen_slope = slope + 0.004 * rng.standard_normal(n)
    need = FIG.value * np.exp(need_sd * rng.standard_normal(n))
    tree = replace(
        _trees(*((1.0, 0.0, 0.0),) * n, log_sd=0.1), leaves=seen_leaves, fruit_main=seen_main, slope=seen_slope
    )
    found = crop_against_leaves(tree)

    def covered(low_high: np.ndarray, truth: np.ndarray) -> float:
        return float(np.mean((low_high[0] - 0.5 <= truth) & (truth <= low_high[1] + 0.5)))

    per_fruit = leaves / main
    inside = (found.leaves_per_fruit_range[0] <= per_fruit) & (per_fruit <= found.leaves_per_fruit_range[1])
    assert 0.87 <= inside.mean() <= 0.93
    surplus = main - leaves * np.exp(slope * damped_days(30.0)) / need
    within = (surplus > 3) & (surplus < seen_main - 3)  # away from the ends, where an interval is cut off
    assert within.sum() > 2000
    assert 0.86 <= covered(found.surplus_range[:, within], surplus[within]) <= 0.94


@pytest.mark.parametrize(
    ("changed", "words"),
    [({"leaves": np.array([-1.0])}, "count again"), ({"need": np.array([0.0])}, "correct the setting")],
)
def test_figures_that_cannot_be_are_refused(changed: dict[str, np.ndarray], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        crop_against_leaves(replace(_trees((60, 0, 10)), **changed))
