"""How far a tree's trend lags behind a drop.

The trend follows what surprises it only in part, so a drop that goes on surprises it more from visit to visit. A drop
enters the filter's equations like a change of slope that the filter does not know of; its mark on each innovation
follows from the gains (Willsky & Jones 1976, IEEE Trans. Autom. Control 21:108-112).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass
class Lag:
    """Trend less truth under each supposed drop, any one shape: `level` in ln(leaves), `slope` a day."""

    level: Floats
    slope: Floats

    @classmethod
    def none(cls, shape: tuple[int, ...]) -> Lag:
        """A trend that does not lag."""
        return cls(np.zeros(shape), np.zeros(shape))

    def fall_behind(self, days: Floats, loss_a_day: Floats) -> None:
        """Let so many days pass in which the tree loses what the trend does not expect."""
        self.level += days * (loss_a_day + self.slope)

    def catch_up(self, gain_level: Floats, gain_slope: Floats) -> None:
        """Let the trend follow a count by its gains; gains of 0 where nothing was counted."""
        self.slope -= gain_slope * self.level
        self.level *= 1.0 - gain_level

    def mixed(self, weights: Floats) -> Lag:
        """Mean lag after a change of state: `weights` (…, from, to) need not add up to one."""
        # A product with ones sums up short rows several times as fast as sum() does.
        total = np.maximum(np.ones(weights.shape[-2]) @ weights, 1e-300)
        return Lag(*(np.einsum("...f,...ft->...t", value, weights) / total for value in (self.level, self.slope)))
