"""Water that the open air takes from a grass surface in a day or a week, from temperatures and latitude alone.

After Allen et al. 1998, FAO Irrigation and Drainage Paper 56 (equation numbers given). Temperatures in °C, radiation in
MJ m⁻² d⁻¹, water in mm; arguments broadcast. Valid for well-watered short grass in the open, over some days together; a
potted tree's need goes with it, times leaf area and shelter, for which no publication gives a figure.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

LATENT_HEAT = 0.408
"""mm of water a MJ m⁻²; equation 20."""
HARGREAVES = 0.0023
"""Equation 52."""
WEEK_DAYS, WEEK_DAYS_MIN = 7, 5
"""FAO-56 asks for 5 days at least; days that are not known are taken to be like the week's others."""


def et0_hargreaves(ra: ArrayLike, t_min_c: ArrayLike, t_max_c: ArrayLike) -> Floats:
    """Reference evapotranspiration, mm/d, from temperatures alone; equation 52. Valid over 5 days or more.

    `ra`: extraterrestrial radiation, MJ m⁻² d⁻¹. Raises ValueError where a lowest lies above its highest.
    """
    low, high = np.asarray(t_min_c, dtype=float), np.asarray(t_max_c, dtype=float)
    if np.any(low > high):
        raise ValueError("a day's lowest temperature lies above its highest")
    water = LATENT_HEAT * np.asarray(ra, dtype=float)
    result: Floats = HARGREAVES * ((low + high) / 2.0 + 17.8) * np.sqrt(high - low) * water
    return result


def week_of_water(ra: ArrayLike, t_min_c: ArrayLike, t_max_c: ArrayLike) -> float:
    """Reference evapotranspiration of the last 7 of consecutive days, mm, by Hargreaves; arguments of shape (days,).

    NaN where fewer than 5 of them are known. Raises ValueError where a lowest lies above its highest.
    """
    daily = et0_hargreaves(ra, t_min_c, t_max_c)[-WEEK_DAYS:]
    known = daily[np.isfinite(daily)]
    return float(known.mean()) * WEEK_DAYS if len(known) >= WEEK_DAYS_MIN else float("nan")
