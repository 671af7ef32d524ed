"""All leaves of a tree, from a full count or from shoots sampled, with the error of counting.

Sampled shoots: Cochran 1977, Sampling Techniques, ch. 2. How far two counts of one tree differ is common practice, no
published source, and corrected by the collection's own counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

Z_90 = 1.6448536269514722
"""Standard normal quantile at 0.95: half of a central 90 % interval."""

# Assumptions about counting. Common practice, no published source; each is a starting value that the
# collection's own data correct through `Variances.error_scale` (see kalman.py).
FULL_COUNT_CV = 0.03
"""Coefficient of variation of a second full count of the same tree."""
SHOOT_COUNT_CV = 0.03
"""Coefficient of variation of a second count of the growing shoots."""
SHOOTS_SAMPLED = 5
"""Shoots that a grower looks at for "leaves a shoot", where the number was not written down."""
BETWEEN_SHOOTS_CV = 0.35
"""How much shoots of one tree differ beyond chance (the negative binomial's extra term)."""
EMPTY_LEAVES = 0.5
"""What stands for "no leaf" on the log scale."""
LEAVES_MAX = 2.5e6
"""More than a potted tree can have: 5000 shoots of 500 leaves, the most that is taken in."""
LEVEL_MIN = -40.0
"""ln(leaves) below which nothing is told apart from no leaf at all."""


@dataclass(frozen=True)
class LeafCount:
    """Total leaves with a 90 % interval; `log_sd` is the counting error of ln(leaves)."""

    leaves: float
    low: float
    high: float
    log_sd: float
    how: Literal["counted", "sampled"]


@dataclass(frozen=True)
class Sampling:
    """What counts of marked shoots are off their tree, in ln(leaves), shape (trees, visits); 0 for any other count.

    `bias_var`: variance of what stays off while the shoots are the same; `gained_var`: what that gains before a visit.
    """

    bias_var: Floats
    gained_var: Floats


def sampling_cv(shoots: Floats, leaves_per_shoot: Floats, shoots_sampled: int = SHOOTS_SAMPLED) -> Floats:
    """Give the coefficient of variation of shoots × leaves a shoot, for arrays of any one shape.

    Simple random sampling without replacement (Cochran 1977, Sampling Techniques, ch. 2): the error of the mean
    shrinks with the shoots sampled and vanishes when all were looked at. The leaves of a shoot follow a negative
    binomial, variance = mean + (BETWEEN_SHOOTS_CV · mean)². Nothing counted, 0 shoots: no error.
    """
    some = (shoots > 0) & (leaves_per_shoot > 0)
    shoots, mean = np.where(some, shoots, 1.0), np.where(some, leaves_per_shoot, 1.0)
    sampled = np.minimum(float(max(shoots_sampled, 1)), shoots)
    unseen_share = 1.0 - sampled / shoots
    per_shoot = (1.0 / mean + BETWEEN_SHOOTS_CV**2) / sampled * unseen_share
    return np.where(some, np.sqrt(per_shoot + SHOOT_COUNT_CV**2), 0.0)


def total_leaf_arrays(leaves: Floats, shoots: Floats, leaves_per_shoot: Floats) -> tuple[Floats, Floats]:
    """Give totals and the counting error (standard deviation) of ln(leaves) for arrays of one shape, NaN unknown.

    A full count wins over a sample. The squared error gains 0.25/leaves², the half leaf of rounding.
    """
    full = np.isfinite(leaves)
    total = np.where(full, leaves, shoots * leaves_per_shoot)
    cv = np.where(full, FULL_COUNT_CV, sampling_cv(np.nan_to_num(shoots), np.nan_to_num(leaves_per_shoot)))
    log_sd = np.sqrt(np.log1p(cv**2) + 0.25 / np.maximum(total, EMPTY_LEAVES) ** 2)
    return total, log_sd


def log_counts(leaves: Floats) -> Floats:
    """Take totals to the log scale; an empty tree counts as half a leaf."""
    logs: Floats = np.log(np.maximum(leaves, EMPTY_LEAVES))
    return logs


def leaves_of(level: Floats) -> Floats:
    """Take levels, ln(leaves), back to leaves: as many as a tree can have.

    A slope that is carried on over years without a count leaves all that bounds trees behind.
    """
    leaves: Floats = np.exp(np.clip(level, LEVEL_MIN, log(LEAVES_MAX)))
    return leaves


def total_leaves(
    leaves: float | None = None, shoots: float | None = None, leaves_per_shoot: float | None = None
) -> LeafCount | None:
    """Estimate all leaves of one tree from what one visit counted.

    Gives None where neither was recorded. Raises ValueError for a negative count.
    """
    if any(value is not None and value < 0 for value in (leaves, shoots, leaves_per_shoot)):
        raise ValueError("leaves and shoots cannot be negative: count them again")
    counted = [
        np.array(np.nan if value is None else value, dtype=float) for value in (leaves, shoots, leaves_per_shoot)
    ]
    totals, log_sds = total_leaf_arrays(*counted)
    total, log_sd = float(totals), float(log_sds)
    if np.isnan(total):
        return None
    base = max(total, EMPTY_LEAVES)
    low = 0.0 if total == 0 else base * exp(-Z_90 * log_sd)
    return LeafCount(total, low, base * exp(Z_90 * log_sd), log_sd, "sampled" if leaves is None else "counted")
