"""Simulated trials: trees of several varieties under shelters, with known differences between shelters."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from server.analysis.season import WEIGHTS
from server.analysis.tree_seasons import SHELTERS, TreeSeasons

Floats = NDArray[np.float64]
GLASS, OPEN, TUNNEL = (SHELTERS.index(name) for name in ("glasshouse", "open", "polytunnel"))


@dataclass(frozen=True)
class Trial:
    """Tree-seasons whose measure "leaves" has a true difference glass − open of `truth`, shape (varieties,)."""

    seasons: TreeSeasons
    truth: Floats
    head_start_truth: Floats


def trial(
    seed: int, varieties: int = 8, spread: float = 10.0, tree_sd: float = 20.0, years: int = 1, head_start: bool = False
) -> Trial:
    """Two to five trees a variety and shelter; tree, year and error parts; effects scatter by `spread`."""
    rng = np.random.default_rng(seed)
    shelters = np.array([OPEN, OPEN] if head_start else [GLASS, OPEN, TUNNEL])
    effect = rng.normal(12.0, spread, varieties)
    by_shelter = np.zeros((varieties, len(SHELTERS)))
    if not head_start:
        by_shelter[:, GLASS] = effect
        by_shelter[:, TUNNEL] = rng.normal(-5.0, spread, varieties)
    size = rng.integers(2, 6, (varieties, len(shelters)))
    variety = np.repeat(np.arange(varieties), size.sum(axis=1))
    shelter = np.concatenate([np.repeat(shelters, row) for row in size])
    tree = np.arange(len(variety))
    days = np.where(rng.random(len(tree)) < 0.5, 30.0, 0.0) if head_start else np.zeros(len(tree))
    own = rng.normal(0, tree_sd, len(tree))
    tables = []
    for year in range(years):
        seen = rng.random(len(tree)) < (1.0 if years == 1 else 0.8)
        value = 100 + 15.0 * variety + by_shelter[variety, shelter] + own + 30.0 * year
        value = value + days / 30.0 * effect[variety] + rng.normal(0, 5.0, len(tree))
        tables.append(np.column_stack([tree, variety, np.full(len(tree), 2020 + year), shelter, days, value])[seen])
    table = np.concatenate(tables)
    whole = table[:, :4].astype(np.int64)
    seasons = TreeSeasons(
        tree=whole[:, 0],
        variety=whole[:, 1],
        species=np.zeros(len(table), dtype=np.int64),
        year=whole[:, 2],
        shelter=whole[:, 3],
        head_start_days=table[:, 4],
        values={"leaves": table[:, 5]},
    )
    return Trial(seasons, effect, effect)


def picked_on_rounds(seasons: TreeSeasons, seed: int, round_days: float = 4.0) -> TreeSeasons:
    """The measure as days until fruit was picked: on the round after it was ripe, rounds being some days apart."""
    rng = np.random.default_rng([seed, 9])
    values = seasons.values["leaves"]
    picked = np.ceil((values + rng.uniform(0.0, round_days, len(values))) / round_days) * round_days
    return replace(seasons, values={"leaves": picked})


@dataclass(frozen=True)
class Reviewed:
    """Kinds with all measures of the review; `yields` and `score` are each kind's true ones, shape (kinds,)."""

    seasons: TreeSeasons
    yields: Floats
    score: Floats


def reviewed(seed: int, kinds: int = 6, trees: int = 4, skewed: bool = False, years: int = 1) -> Reviewed:
    """Two to six trees a kind over some years; kinds differ by 80, trees by 100, in every measure."""
    rng = np.random.default_rng([seed, 5])
    variety = np.repeat(np.arange(kinds), rng.integers(trees - 2, trees + 3, kinds))
    n = len(variety)
    truth = {name: rng.normal(0.0, 80.0, kinds) for name in WEIGHTS}
    heavy = np.sqrt((np.exp(0.36) - 1) * np.exp(0.36))
    own = {
        name: 100 * ((rng.lognormal(0, 0.6, n) - np.exp(0.18)) / heavy if skewed else rng.normal(0, 1, n))
        for name in WEIGHTS
    }
    seen = [rng.random(n) < (1.0 if years == 1 else 0.8) for _ in range(years)]
    rows = np.concatenate([np.flatnonzero(each) for each in seen])
    year = np.repeat(np.arange(years), [each.sum() for each in seen])
    values = {
        name: 500
        + truth[name][variety[rows]]
        + own[name][rows]
        + 60.0 * year
        + rng.normal(0, 50.0 * (years > 1), len(rows))
        for name in WEIGHTS
    }
    whole = np.zeros(len(rows), dtype=np.int64)
    seasons = TreeSeasons(rows, variety[rows], whole, year + 2025, whole + OPEN, np.zeros(len(rows)), values)
    score = sum((weight * truth[name] for name, weight in WEIGHTS.items()), np.zeros(kinds))
    met = np.unique(variety[rows])
    last = 500 + 60.0 * float(year.max())
    return Reviewed(seasons, last + truth["yield_g"][met], score[met])
