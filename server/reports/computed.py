"""All that is computed of each tree in one pass: trend and leaf drop, crop, pace; anew for all, or again for some."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.reports import pace
from server.reports.crops import Crops, find_crops
from server.reports.judge import Former, Judged, judge, judge_again
from server.reports.load import Collection
from server.reports.pace import Paced

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Computed:
    """What the computing says of a collection's trees, or of some of them."""

    judged: Judged
    crops: Crops
    paced: Paced

    @property
    def collection(self) -> Collection:
        """The trees, as they were loaded."""
        return self.judged.collection


def compute(collection: Collection) -> Computed:
    """Learn from all trees, and compute each."""
    judged = judge(collection)
    return Computed(judged, find_crops(judged), pace.find_paces(collection))


def compute_again(part: Collection, rows: Ints, learned: Computed, former: Iterable[Former]) -> Computed | None:
    """Compute some trees by what was learned of all; None where that can't be done, and all have to be learned anew.

    `rows`: theirs in the collection that was learned from; `former`: as they were judged before.
    """
    paced = pace.find_again(part, rows, learned.paced)
    judged = None if paced is None else judge_again(part, rows, learned.judged, former)
    return None if paced is None or judged is None else Computed(judged, find_crops(judged), paced)
