"""What an hour at a temperature is worth: chill units, chill hours and growing degree hours.

Temperatures in °C, any shape; the result has the same shape. NaN in gives NaN out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

# (above °C, the units of an hour change by). Richardson, Seeley & Walker 1974 (HortScience 9:331-332): 1 unit from 2.4
# to 9.1 °C, half around it, none from 12.4 to 15.9 °C, less than nothing above. The step at 1.4 °C is from memory.
UTAH_STEPS = ((1.4, 0.5), (2.4, 0.5), (9.1, -0.5), (12.4, -0.5), (15.9, -0.5), (18.0, -0.5))
CHILL_HOUR_C = 7.2
"""45 °F; Weinberger 1950, as extension services count it."""
GROWTH_BASE_C, GROWTH_BEST_C, GROWTH_END_C = 4.0, 25.0, 36.0
"""Anderson et al. 1986 (Acta Hort. 184:71-78)."""


def utah_chill_units(t_c: ArrayLike) -> Floats:
    """Chill units of an hour, −1 to 1.

    Source: Richardson et al. 1974, for peach in a cold winter; too harsh on mild winters, where warm hours undo more
    than they do to trees. A bound itself belongs to the band below it.
    """
    t = np.asarray(t_c, dtype=float)
    units = np.where(np.isnan(t), np.nan, 0.0)
    for bound, change in UTAH_STEPS:
        units += np.multiply(t > bound, change)
    return units


def chill_hours(t_c: ArrayLike) -> Floats:
    """1 for an hour below 7.2 °C, else 0; frost counts, as in the original.

    Source: Weinberger 1950, as extension services count it. Valid for winters that are cold throughout.
    """
    t = np.asarray(t_c, dtype=float)
    return np.where(np.isnan(t), np.nan, (t < CHILL_HOUR_C).astype(float))


def growing_degree_hours(t_c: ArrayLike) -> Floats:
    """Growing degree hours of an hour, 0 to 21.

    Source: Anderson et al. 1986, asymmetric curve for stone fruit: from 4 °C up to 25 °C and down to 36 °C by cosines.
    """
    t = np.asarray(t_c, dtype=float)
    # 1 + cos(π + x) and 1 + cos(π/2 + x) of the original, written as one cosine over both branches.
    best = GROWTH_BEST_C - GROWTH_BASE_C
    rising = t <= GROWTH_BEST_C
    up = np.pi / best * (t - GROWTH_BASE_C)
    down = np.pi / 2.0 / (GROWTH_END_C - GROWTH_BEST_C) * (GROWTH_END_C - t)
    angle = np.maximum(np.where(rising, up, down), 0.0)
    result: Floats = np.where(rising, best / 2.0, best) * (1.0 - np.cos(angle))
    return result
