"""Stated 90 % intervals against the truth over 500 simulated seasons and more; prints what they held.

Bands of the pace: tests/analysis/test_pace.py; differences between shelters: tests/analysis/test_compare.py, both as
benchmarks beside their quick checks.
"""

from __future__ import annotations

import numpy as np
import pytest

from server.analysis.compare import compare
from server.analysis.season import WEIGHTS, cells_of, level, standing
from tests.analysis.covering import asked, fruited, setting_of, trends_covered
from tests.analysis.seasons import make_season
from tests.analysis.trial import picked_on_rounds, reviewed, trial

SEASONS = 500
LOWEST, HIGHEST = 0.87, 0.93

pytestmark = [pytest.mark.benchmark, pytest.mark.usefixtures("sqlite_collection")]


def told(held: dict[str, list[np.ndarray]]) -> dict[str, float]:
    """The share held of each interval, printed."""
    shares = {name: float(np.concatenate([np.atleast_1d(e) for e in each]).mean()) for name, each in held.items()}
    print()
    for name, share in shares.items():
        print(f"{name}: 90 % intervals held {100 * share:.1f} % over {len(held[name])} simulated seasons")
    return shares


def test_leaves_change_and_crop() -> None:
    """Each season in a shape of its own, asked on a day of its own."""
    names = ("leaves", "change a week", "smoothed curve", "leaves a fruit", "fruits to take")
    sampled_names = ("leaves by sampled shoots", "change by sampled shoots", "curve by sampled shoots")
    held: dict[str, list[np.ndarray]] = {name: [] for name in (*names, *sampled_names)}
    for seed in range(1000, 1000 + SEASONS):
        season, rng = make_season(setting_of(seed), seed), np.random.default_rng([seed, 7])
        until = float(rng.uniform(30, 115))
        day, found = asked(season, until)
        covered, fruit = trends_covered(season, day, found), fruited(season, day, found, rng)
        full = (covered.leaves, covered.change, covered.band, fruit.per_fruit_held, fruit.surplus_held)
        some = trends_covered(season, *asked(season, until, rng))
        for name, each in zip((*names, *sampled_names), (*full, some.leaves, some.change, some.band), strict=True):
            held[name].append(each)
    assert all(LOWEST <= share <= HIGHEST for share in told(held).values())


@pytest.mark.parametrize("shape", [{}, {"varieties": 3}, {"spread": 40.0}, {"spread": 0.0}], ids=str)
def test_what_varieties_have_in_common_and_days_to_ripeness(shape: dict[str, float]) -> None:
    """The mean over varieties, and single varieties by days of picking, which come in whole days of rounds."""
    held: dict[str, list[np.ndarray]] = {"common mean": [], "days to ripeness": []}
    for seed in range(SEASONS):
        made = trial(seed, **shape)  # type: ignore[arg-type]
        for name, seasons in (
            ("common mean", made.seasons),
            ("days to ripeness", picked_on_rounds(made.seasons, seed)),
        ):
            (found,) = [e for e in compare(seasons, "leaves") if (e.shelter, e.against) == ("glasshouse", "open")]
            assert found.pooled is not None
            if name == "common mean":
                held[name].append(np.array(found.pooled.common_low <= 12.0 <= found.pooled.common_high))
            else:
                truth = made.truth[found.variety]
                held[name].append((found.pooled.low <= truth) & (truth <= found.pooled.high))
    assert all(LOWEST <= share <= HIGHEST for share in told(held).values())


@pytest.mark.parametrize(
    "shape", [{}, {"kinds": 12}, {"skewed": True}, {"years": 3}], ids=["six kinds", "twelve", "skewed", "three years"]
)
def test_yields_and_ranks_of_the_review(shape: dict[str, int]) -> None:
    held: dict[str, list[np.ndarray]] = {"yield": [], "rank": []}
    for seed in range(SEASONS):
        made = reviewed(seed, **shape)  # type: ignore[arg-type]
        cells = cells_of(made.seasons)
        levels = {name: level(made.seasons, cells, name) for name in WEIGHTS}
        ends = np.array([levels["yield_g"].interval(cell)[1:] for cell in range(len(made.score))])
        held["yield"].append((ends[:, 0] <= made.yields) & (made.yields <= ends[:, 1]))
        place = standing(levels, len(made.score))
        rank = np.argsort(np.argsort(-made.score)) + 1
        held["rank"].append((place.rank_low <= rank) & (rank <= place.rank_high))
    assert all(LOWEST <= share <= HIGHEST for share in told(held).values())
