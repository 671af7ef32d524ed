"""Simulated trials: trees of several varieties under shelters, with known differences between shelters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
