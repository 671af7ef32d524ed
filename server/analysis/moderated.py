"""Variances of groups with few members each, shrunk towards each other as far as they agree (Smyth 2004)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import polygamma, psi

Floats = NDArray[np.float64]

GROUPS_FOR_PRIOR_MIN = 8
"""From so many groups on, how much their variances differ is estimated; with fewer they are taken as equal."""
ROUNDING = 1e-24
"""Share of the squared values below which a sum of squares is the rounding of numbers."""
VARIANCE_FLOOR = 1e-5
"""A group's variance counts as at least this share of the middle one, so that equal figures give no certainty."""


def moderate(variance: Floats, df: Floats) -> tuple[Floats, Floats]:
    """Shrink the groups' residual variances towards each other; gives variances and their degrees of freedom.

    Moderated variances, Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3(1):3, section 6: a scaled inverse chi-squared
    prior, its two figures found from the log variances. `df` 0: the group tells nothing and takes the prior's. All
    results are NaN where no group has a degree of freedom.
    """
    told = df > 0
    total = float(df[told].sum())
    if total <= 0:
        return np.full(len(df), np.nan), np.zeros(len(df))
    own = np.where(told, variance, 0.0)
    own = np.maximum(own, VARIANCE_FLOOR * float(np.median(own[told])))
    common = float((own * df)[told].sum() / total)
    prior_df = _prior_df(own[told], df[told])
    if common <= 0 or not np.isfinite(prior_df):
        return np.full(len(df), common), np.full(len(df), total)
    centred = np.log(own[told]) - psi(df[told] / 2) + np.log(df[told] / 2)
    prior = float(np.exp(centred.mean() + psi(prior_df / 2) - np.log(prior_df / 2)))
    shrunk = (prior_df * prior + df * np.where(told, own, 0.0)) / (prior_df + df)
    return shrunk, np.minimum(prior_df + df, total)


def residual_squares(residual: Floats, values: Floats) -> float:
    """Sum of squared residuals; what is left of equal values by the rounding of numbers is nothing."""
    total = float(residual @ residual)
    return total if total > ROUNDING * float(values @ values) else 0.0


def _prior_df(variance: Floats, df: Floats) -> float:
    """Degrees of freedom of the prior; infinite where the variances differ no more than chance lets them."""
    groups = len(variance)
    if groups < GROUPS_FOR_PRIOR_MIN or not (variance > 0).all():
        return float("inf")
    centred = np.log(variance) - psi(df / 2) + np.log(df / 2)
    beyond_chance = float(centred.var(ddof=1) - polygamma(1, df / 2).mean())
    return 2.0 * _trigamma_inverse(beyond_chance) if beyond_chance > 0 else float("inf")


def _trigamma_inverse(value: float) -> float:
    """Solve trigamma(y) = value by Newton's method (Smyth 2004, appendix)."""
    y = 0.5 + 1.0 / value
    for _ in range(50):
        trigamma = float(polygamma(1, y))
        step = trigamma * (1.0 - trigamma / value) / float(polygamma(2, y))
        y += step
        if abs(step) < 1e-9 * y:
            break
    return y
