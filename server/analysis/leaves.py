"""All leaves of a tree, from a full count or from shoots sampled, with the error of counting."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log, sqrt
from typing import Literal

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


@dataclass(frozen=True)
class LeafCount:
    """Total leaves with a 90 % interval; `log_sd` is the counting error of ln(leaves)."""

    leaves: float
    low: float
    high: float
    log_sd: float
    how: Literal["counted", "sampled"]


def sampling_cv(shoots: float, leaves_per_shoot: float, shoots_sampled: int = SHOOTS_SAMPLED) -> float:
    """Give the coefficient of variation of shoots × leaves a shoot.

    Simple random sampling without replacement (Cochran 1977, Sampling Techniques, ch. 2): the error of the mean
    shrinks with the shoots sampled and vanishes when all were looked at. The leaves of a shoot follow a negative
    binomial, variance = mean + (BETWEEN_SHOOTS_CV · mean)².
    """
    if shoots <= 0 or leaves_per_shoot <= 0:
        return 0.0
    sampled = min(float(max(shoots_sampled, 1)), shoots)
    per_shoot = 1.0 / leaves_per_shoot + BETWEEN_SHOOTS_CV**2
    unseen_share = 1.0 - sampled / shoots
    return sqrt(per_shoot / sampled * unseen_share + SHOOT_COUNT_CV**2)


def total_leaves(
    leaves: float | None = None,
    shoots: float | None = None,
    leaves_per_shoot: float | None = None,
    shoots_sampled: int = SHOOTS_SAMPLED,
) -> LeafCount | None:
    """Estimate all leaves of a tree from what one visit counted.

    A full count wins over a sample. Gives None where neither was recorded. Raises ValueError for a negative count.
    """
    if any(value is not None and value < 0 for value in (leaves, shoots, leaves_per_shoot)):
        raise ValueError("leaves and shoots cannot be negative: count them again")
    if leaves is not None:
        return _with_interval(float(leaves), FULL_COUNT_CV, "counted")
    if shoots is None or leaves_per_shoot is None:
        return None
    cv = sampling_cv(shoots, leaves_per_shoot, shoots_sampled)
    return _with_interval(float(shoots) * float(leaves_per_shoot), cv, "sampled")


def _with_interval(leaves: float, cv: float, how: Literal["counted", "sampled"]) -> LeafCount:
    """Put a log-normal interval round a count; the squared CV gains 0.25/leaves, the half-leaf of rounding."""
    base = max(leaves, EMPTY_LEAVES)
    log_sd = sqrt(log(1.0 + cv**2) + 0.25 / base**2)
    low = 0.0 if leaves == 0 else base * exp(-Z_90 * log_sd)
    high = base * exp(Z_90 * log_sd)
    return LeafCount(leaves, low, high, log_sd, how)
