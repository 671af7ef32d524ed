"""Simulated springs: shoots that unfold leaves with the heat, each tree in its own way, counted imperfectly.

The curves here are not those that the analysis fits: leaves appear in a straight line that bends down once, or along
a Gompertz curve; vigour differs by variety, tree and year; bud break is seen late; a few shoots stand for all.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.nested import Levels
from server.analysis.pace import Measured, Scale

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Spring:
    """How a collection's springs are made."""

    trees: int = 60
    varieties: int = 14
    species: int = 2
    years: int = 2
    leaf_dd: tuple[float, ...] = (46.0, 20.0)
    standing_leaves: tuple[float, ...] = (0.0, 0.0)
    shape: str = "bent"
    variety_sd: float = 0.10
    tree_sd: float = 0.08
    year_sd: float = 0.08
    wake_sd_dd: float = 15.0
    sampled_share: float = 0.6
    wander_sd: float = 0.04
    weak_share: float = 0.0
    weak_pace: float = 0.35
    days_max: int = 95
    days_last: int | None = None
    cm: bool = False


@dataclass
class Grown:
    """Visits as the analysis takes them, and which seasons (the last year's) belong to weak trees."""

    measured: Measured
    levels: Levels
    scale: Scale
    current: NDArray[np.int64]
    weak: NDArray[np.bool_]
    truth: Floats


def nodes_of(nodes: Floats, shape: str) -> Floats:
    """Leaves a shoot that appeared, from heat ÷ heat a leaf."""
    if shape == "bent":
        return np.where(nodes < 12.0, nodes, 12.0 + 0.4 * (nodes - 12.0))
    full = 24.0
    return full * (np.exp(-np.exp(-(nodes - 6.0) / 7.0)) - np.exp(-np.exp(6.0 / 7.0)))


def make_springs(setting: Spring, seed: int) -> Grown:
    """Simulate all trees over all years; the last year ends on a random day of the spring."""
    rng = np.random.default_rng(seed)
    species_of_variety = np.arange(setting.varieties) % setting.species
    variety_of_tree = rng.integers(0, setting.varieties, setting.trees)
    vigour_variety = rng.normal(0.0, setting.variety_sd, setting.varieties)
    vigour_tree = rng.normal(0.0, setting.tree_sd, setting.trees)
    weak_tree = rng.random(setting.trees) < setting.weak_share
    place = rng.integers(0, 4, setting.trees)
    columns: list[list[float]] = []
    current, weak, truth = [], [], []
    tree_of_season, leaf_dd, season = [], [], 0
    ends = [setting.days_max] * (setting.years - 1) + [setting.days_last or int(rng.integers(25, setting.days_max))]
    for year, end in enumerate(ends):
        daily = np.clip(rng.normal(5.0 + 0.11 * np.arange(setting.days_max)[:, None] + 1.5 * np.arange(4), 2.0), 0, 25)
        heat_by_place = np.vstack([np.zeros(4), np.cumsum(daily, axis=0)])
        for i in range(setting.trees):
            kind = species_of_variety[variety_of_tree[i]]
            a_leaf = setting.leaf_dd[kind]
            vigour = vigour_variety[variety_of_tree[i]] + vigour_tree[i] + rng.normal(0.0, setting.year_sd)
            pace = np.exp(vigour) * (setting.weak_pace if weak_tree[i] and year == setting.years - 1 else 1.0)
            woke = int(rng.integers(0, 15))
            days = woke + np.cumsum(rng.integers(3, 6, 40))
            days = days[(days <= end) & (rng.random(40) > 0.1)]
            late, wander, last = rng.normal(0.0, setting.wake_sd_dd), 0.0, 0.0
            for day in days:
                heat = heat_by_place[day, place[i]] - heat_by_place[woke, place[i]]
                wander = 0.8 * wander + setting.wander_sd * rng.standard_normal()
                nodes = nodes_of(np.array(max(heat + late, 0.0) / a_leaf), setting.shape)
                true = float(nodes * pace * np.exp(wander)) + setting.standing_leaves[kind]
                value, sampled = _counted(true, setting, rng)
                columns.append([season, day, heat, value, sampled])
                last = true
            tree_of_season.append(i)
            leaf_dd.append(a_leaf)
            if year == setting.years - 1 and len(days):
                current.append(season)
                weak.append(weak_tree[i])
                truth.append(last)
            season += 1
    table = np.array(columns)
    measured = Measured(table[:, 0].astype(np.int64), table[:, 1], table[:, 2], table[:, 3], table[:, 4] > 0)
    trees_seen, tree = np.unique(tree_of_season, return_inverse=True)
    varieties_seen, variety = np.unique(variety_of_tree[trees_seen], return_inverse=True)
    _, kind = np.unique(species_of_variety[varieties_seen], return_inverse=True)
    levels = Levels((tree, variety, kind, np.zeros(int(kind.max()) + 1, dtype=np.int64)))
    scale = Scale(2.5 if setting.cm else 1.0, np.full(len(leaf_dd), 45.0))
    return Grown(measured, levels, scale, np.array(current), np.array(weak), np.array(truth))


def _counted(true: float, setting: Spring, rng: np.random.Generator) -> tuple[float, float]:
    if setting.cm:
        return round(max(2.5 * true * (1 + 0.05 * rng.standard_normal()) + 0.3 * rng.standard_normal(), 0.0), 1), 0.0
    if rng.random() < setting.sampled_share:
        return round(float(rng.poisson(true * rng.gamma(1 / 0.35**2, 0.35**2, 5)).mean()), 1), 1.0
    return max(round(8 * true * (1 + 0.03 * rng.standard_normal())), 0) / 8, 0.0
