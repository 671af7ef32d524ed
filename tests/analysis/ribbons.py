"""Simulated trees whose shoots gain and lose leaves one by one, and what a grower counts of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.analysis.shoots import MarkedShoots

Floats = NDArray[np.float64]

BETWEEN_SHOOTS_CV = 0.35
VIGOUR_CV = 0.35


@dataclass(frozen=True)
class Grove:
    """Trees as they are: `on_shoot` leaves of each shoot at each visit, (trees, visits, shoots), else NaN."""

    day: Floats
    on_shoot: Floats
    shoots: Floats

    @property
    def leaves(self) -> Floats:
        """All leaves, (trees, visits)."""
        return np.nansum(self.on_shoot, axis=2)

    def counted(self, rng: np.random.Generator, marked: int) -> tuple[Floats, MarkedShoots]:
        """Shoots counted once, at the first visit; leaves on the first few shoots counted at every visit."""
        trees, visits = self.day.shape
        shoots = np.full((trees, visits), np.nan)
        shoots[:, 0] = np.maximum(np.round(self.shoots * (1 + 0.03 * rng.standard_normal(trees))), marked)
        return shoots, MarkedShoots(np.arange(trees), slips(rng, self.on_shoot[:, :, :marked]))

    def sampled(self, rng: np.random.Generator, count: int) -> tuple[Floats, Floats]:
        """Shoots counted at every visit, and the mean leaves of a few other shoots each time."""
        trees, visits = self.day.shape
        shoots = np.round(self.shoots[:, None] * (1 + 0.03 * rng.standard_normal((trees, visits))))
        order = np.where(np.isfinite(self.on_shoot), rng.random(self.on_shoot.shape), np.inf)
        pick = np.argsort(order, axis=2)[:, :, :count]
        return shoots, np.take_along_axis(self.on_shoot, pick, axis=2).mean(axis=2)


def slips(rng: np.random.Generator, leaves: Floats) -> Floats:
    """Count leaves with a slip now and then: about 3 %, to whole leaves."""
    return np.maximum(np.round(leaves * (1 + 0.03 * rng.standard_normal(leaves.shape))), 0.0)


def grove(rng: np.random.Generator, trees: int, visits: int, by_chance: bool) -> Grove:
    """Grow trees of 8 to 30 shoots, about 9 leaves each at first, seen every 3 to 5 days.

    A shoot's leaves are negative binomial at first; each leaf falls by chance, new ones come `by_chance` or at a steady
    pace, in either case with the shoot's own lasting vigour; the tree's rates of both wander from visit to visit.
    """
    day = np.cumsum(rng.integers(3, 6, (trees, visits)), axis=1).astype(float)
    shoots = rng.integers(8, 31, trees)
    there = np.arange(30) < shoots[:, None]
    size = BETWEEN_SHOOTS_CV**-2
    now = rng.poisson(9.0 * rng.gamma(size, 1 / size, there.shape)) * there
    vigour = rng.gamma(VIGOUR_CV**-2, VIGOUR_CV**2, there.shape)
    due = np.zeros(there.shape) if by_chance else rng.random(there.shape)
    grows, falls = rng.lognormal(np.log(0.08), 0.5, trees), rng.lognormal(np.log(0.006), 0.5, trees)
    found = np.full((trees, visits, 30), np.nan)
    for j in range(visits):
        if j:
            days = (day[:, j] - day[:, j - 1])[:, None]
            grows, falls = (rate * rng.lognormal(0, 0.15, trees) for rate in (grows, falls))
            now = now - rng.binomial(now, 1 - np.exp(-falls[:, None] * days))
            due = due + grows[:, None] * days * vigour
        new = rng.poisson(due) if by_chance else np.floor(due).astype(int)
        due = np.zeros_like(due) if by_chance else due - new
        now = now + new * there
        found[:, j] = np.where(there, now, np.nan)
    return Grove(day, found, shoots.astype(float))
