"""Variances of the leaf trend, pooled over the collection: maximum likelihood by the filter of `kalman.py`.

The likelihood is that of the innovations (Harvey 1989, ch. 3.4), climbed by the simplex of Nelder & Mead 1965.
"""

from __future__ import annotations

from math import exp

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from server.analysis.kalman import Variances, local_trend_filter

Floats = NDArray[np.float64]

FIT_TREES_MAX = 250
"""So many trees, evenly picked, fix three pooled variances well; more would only cost time."""
FIT_STEPS_MAX = 110
SURPRISE_MAX = 3.5
CALM_SHARE_MIN = 0.6
"""At least this share of the trees stays in the second fit."""


def fit_variances(
    log_leaves: Floats,
    log_var: Floats,
    day: Floats,
    start: Variances | None = None,
    gained_var: Floats | None = None,
) -> Variances:
    """Fit the pooled variances by maximum likelihood over the collection.

    A weak penalty (a factor of about e² counts as one standard deviation) keeps few trees from an extreme; it is
    worth less than one observation. Trees with a surprise beyond SURPRISE_MAX standard deviations (a sudden loss, not
    the common run) are left out of a second fit. Fewer than four innovations in all: the starting values are returned.
    """
    start = start or Variances()
    gained = np.zeros_like(day) if gained_var is None else gained_var
    counted = np.isfinite(log_leaves).sum(axis=1)
    rows = np.flatnonzero(counted >= 2)
    if (counted[rows] - 1).sum() < 4:
        return start
    if len(rows) > FIT_TREES_MAX:
        rows = rows[np.linspace(0, len(rows) - 1, FIT_TREES_MAX).astype(int)]
    first = _maximise(log_leaves[rows], log_var[rows], day[rows], gained[rows], start)
    track = local_trend_filter(log_leaves[rows], log_var[rows], day[rows], first, gained[rows])
    surprise = np.nan_to_num(np.abs(track.innovation) / np.sqrt(track.innovation_var)).max(axis=0)
    calm = surprise <= max(SURPRISE_MAX, float(np.quantile(surprise, CALM_SHARE_MIN)))
    if calm.all():
        return first
    rows = rows[calm]
    return _maximise(log_leaves[rows], log_var[rows], day[rows], gained[rows], first)


def _maximise(y: Floats, r: Floats, t: Floats, gained: Floats, start: Variances) -> Variances:
    """Climb the penalised likelihood from `start`."""

    def with_logs(x: Floats) -> Variances:
        shift = [exp(value) for value in np.clip(x, -9.0, 9.0)]
        return Variances(
            start.level_a_day * shift[0], start.slope_a_day * shift[1], start.error_scale * shift[2], start.slope_start
        )

    def loss(x: Floats) -> float:
        fit = local_trend_filter(y, r, t, with_logs(x), gained).log_likelihood.sum()
        return float(-fit + 0.125 * np.sum(x**2))

    simplex = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, -0.7]])
    options = {"maxfev": FIT_STEPS_MAX, "xatol": 0.03, "fatol": 0.02, "initial_simplex": simplex}
    found = minimize(loss, np.zeros(3), method="Nelder-Mead", options=options)
    return with_logs(found.x)
