"""Numbers laid out in columns by tree, so that some trees' can be exchanged without looking at the others'."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ByTree:
    """Columns of one length: `tree` the tree's row in the collection, `day` an ordinal date, `place` and `value`."""

    tree: Ints
    day: Ints
    place: Ints
    value: Floats

    def exchanged(self, rows: Ints, new: ByTree) -> ByTree:
        """The same with what some trees have now in the place of what they had."""
        gone = np.zeros(max(int(self.tree.max(initial=-1)), int(rows.max(initial=-1))) + 1, dtype=bool)
        gone[rows] = True
        kept = ~gone[self.tree]
        return ByTree(
            np.concatenate([self.tree[kept], new.tree]),
            np.concatenate([self.day[kept], new.day]),
            np.concatenate([self.place[kept], new.place]),
            np.concatenate([self.value[kept], new.value]),
        )
