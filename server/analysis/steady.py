"""How much the growth of a sound tree changes its pace: the slope's variance without the trees that change it most.

Trees that drop leaves change their slope. A variance fitted to all takes that for the common run, and then a slow drop
looks like any change of pace. A trimmed likelihood (Neykov & Müller 2003, in Developments in Robust Statistics,
277-286) asks only the trees that such changes explain least.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from server.analysis.kalman import Variances, local_trend_filter
from server.analysis.pooled_variances import FIT_TREES_MAX

Floats = NDArray[np.float64]

# Settings, tuned on simulated seasons (tests/analysis/test_seasons.py); no published source.
SHARES_TRIED = (1.0, 0.3, 0.1)
"""Parts of the fitted variance that are tried."""
TRIMMED_SHARE = 0.2
"""So many trees may be dropping without passing for the common run."""
TREES_MIN = 8
COUNTS_MIN = 4


def steady_slope(
    log_leaves: Floats, log_var: Floats, day: Floats, variances: Variances, gained_var: Floats | None = None
) -> float:
    """Give the slope's variance a day of trees that keep their pace; arrays as for `local_trend_filter`.

    The fitted one where fewer than TREES_MIN trees were counted COUNTS_MIN times.
    """
    rows = np.flatnonzero(np.isfinite(log_leaves).sum(axis=1) >= COUNTS_MIN)
    if len(rows) < TREES_MIN:
        return variances.slope_a_day
    if len(rows) > FIT_TREES_MAX:
        rows = rows[np.linspace(0, len(rows) - 1, FIT_TREES_MAX).astype(int)]
    gained = None if gained_var is None else gained_var[rows]
    tried = [replace(variances, slope_a_day=variances.slope_a_day * share) for share in SHARES_TRIED]
    fits = np.stack(
        [local_trend_filter(log_leaves[rows], log_var[rows], day[rows], each, gained).log_likelihood for each in tried]
    )
    restless = fits[0] - fits[-1]
    asked = restless <= np.quantile(restless, 1.0 - TRIMMED_SHARE)
    return tried[int(np.argmax(fits[:, asked].sum(axis=1)))].slope_a_day
