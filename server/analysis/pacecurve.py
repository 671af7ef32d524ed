"""The curve of growth along heat: its shape, the first guess of a count's error, and the way back to leaves or cm.

Restricted cubic spline: Stone & Koo 1985. Errors of counts by the delta method, as variances of ln(1 + value ÷ unit);
heat in °C days. The first guesses are a grower's settings, which the collection's own counts correct.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from server.analysis.leaves import BETWEEN_SHOOTS_CV, SHOOTS_SAMPLED, Z_90

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

# Starting values that the collection's own counts correct. A grower's settings; common practice, no published source.
LEAF_DD = 45.0
"""Heat for one leaf a shoot, °C days above the species' base."""
NODE_CM = 2.5
"""Shoot growth that goes with one leaf."""
WAKE_ERROR_DD = 20.0
"""How far the heat since waking is off, as bud break is seen on some round after it came."""
MEASURED_CV, MEASURED_CM = 0.08, 0.5
COUNTED_CV = 0.05

KNOTS = (0.4, 1.3, 2.2, 3.3)
"""Of the spline, in ln(1 + heat ÷ heat a leaf): at 22, 120, 361 and 1175 °C days for LEAF_DD."""
CENTRE = 1.5
GUESS_MAX = 6.0


def curve_columns(nodes: Floats) -> Floats:
    """Columns of the curve at heat ÷ heat a leaf: level, slope and two bends (restricted cubic spline)."""
    z = np.log1p(nodes)
    first, last_but_one, last = KNOTS[0], KNOTS[-2], KNOTS[-1]
    columns = [np.ones_like(z), z - CENTRE]

    def cubed(knot: float) -> Floats:
        return np.maximum(z - knot, 0.0) ** 3

    for knot in KNOTS[:-2]:
        bend = (
            cubed(knot)
            - cubed(last_but_one) * (last - knot) / (last - last_but_one)
            + cubed(last) * (last_but_one - knot) / (last - last_but_one)
        )
        columns.append(bend / (last - first) ** 2)
    return np.stack(columns, axis=-1)


def error_variance(guess: Floats, sampled: Bools, unit: float) -> Floats:
    """First guess of the variance of ln(1 + value ÷ unit) about its curve, by what is expected, not by what was seen.

    Counting (the delta method), rounding by half a leaf, and the error of the day of waking.
    """
    mean = np.expm1(np.clip(guess, 0.0, GUESS_MAX)) + 0.5
    if unit == 1.0:
        few = (mean + (BETWEEN_SHOOTS_CV * mean) ** 2) / SHOOTS_SAMPLED
        counted = np.where(sampled, few, (COUNTED_CV * mean) ** 2) + 0.08
    else:
        counted = (MEASURED_CV * mean) ** 2 + (MEASURED_CM / unit) ** 2
    woke = (WAKE_ERROR_DD / LEAF_DD) ** 2
    variance: Floats = (counted + woke) / (1.0 + mean) ** 2
    return variance


def limits(mean: Floats, sd: Floats, unit: float) -> tuple[Floats, Floats, Floats]:
    """Low, middle and high (90 %) of a value whose ln(1 + value ÷ unit) has this mean and standard deviation."""

    def back(y: Floats) -> Floats:
        return unit * np.expm1(np.maximum(y, 0.0))

    return back(mean - Z_90 * sd), back(mean), back(mean + Z_90 * sd)
