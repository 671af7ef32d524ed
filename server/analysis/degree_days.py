"""Degree-days of a day from its lowest and highest temperature, by the published methods.

Any unit of temperature will do as long as all arguments share it; results are degree-days of that unit. All functions
take numbers or arrays of any one shape (days, or places × days) and hand back that shape; NaN in gives NaN out.
Valid for days that swing once between their lowest and highest; weather that turns at noon is beyond all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Cutoff = Literal["horizontal", "vertical", "intermediate"]
Method = Literal["single-sine", "double-sine", "single-triangle", "double-triangle", "mean", "floored-mean"]
METHODS: tuple[Method, ...] = get_args(Method)
CUTOFFS: tuple[Cutoff, ...] = get_args(Cutoff)
Above = Callable[[Floats, Floats, float], tuple[Floats, Floats]]
_FLAT = 1e-9
"""A day that swings by less has one temperature; dividing by it would overflow."""


def single_triangle(
    t_min: ArrayLike, t_max: ArrayLike, lower: float, upper: float | None = None, cutoff: Cutoff = "horizontal"
) -> Floats:
    """Degree-days under one triangle a day.

    Source: Lindsey & Newman 1956; as laid out by Zalom et al. 1983 (Degree-days, UC leaflet 21373).
    `upper`: temperature above which development slows, None for no limit; `cutoff` says how (see `_cut`).
    Raises ValueError where a lowest lies above its highest, or `upper` below `lower`.
    """
    low, high = _day(t_min, t_max)
    return _floored(_cut(_triangle_above, low, high, lower, upper, cutoff))


def double_triangle(
    t_min: ArrayLike,
    t_max: ArrayLike,
    next_min: ArrayLike,
    lower: float,
    upper: float | None = None,
    cutoff: Cutoff = "horizontal",
) -> Floats:
    """Degree-days under two half triangles: up from this morning's lowest, down to the next morning's.

    Source: Sevacherian et al. 1977; as laid out by Zalom et al. 1983. Arguments as in `single_triangle`.
    """
    return _double(_triangle_above, (t_min, t_max, next_min), lower, upper, cutoff)


def single_sine(
    t_min: ArrayLike, t_max: ArrayLike, lower: float, upper: float | None = None, cutoff: Cutoff = "horizontal"
) -> Floats:
    """Degree-days under one sine wave a day.

    Source: Baskerville & Emin 1969 (Ecology 50:514-517). Arguments as in `single_triangle`.
    """
    low, high = _day(t_min, t_max)
    return _floored(_cut(_sine_above, low, high, lower, upper, cutoff))


def double_sine(
    t_min: ArrayLike,
    t_max: ArrayLike,
    next_min: ArrayLike,
    lower: float,
    upper: float | None = None,
    cutoff: Cutoff = "horizontal",
) -> Floats:
    """Degree-days under two half sine waves: up from this morning's lowest, down to the next morning's.

    Source: Allen 1976 (Environ. Entomol. 5:388-396). Arguments as in `single_triangle`.
    """
    return _double(_sine_above, (t_min, t_max, next_min), lower, upper, cutoff)


def mcmaster_wilhelm_1(t_min: ArrayLike, t_max: ArrayLike, base: float, upper: float | None = None) -> Floats:
    """Degree-days of the day's mean, the mean itself held at the base (and at `upper` where given).

    Source: McMaster & Wilhelm 1997 (Agric. For. Meteorol. 87:291-300), method 1.
    """
    low, high = _day(t_min, t_max)
    _check_limits(base, upper)
    result: Floats = np.clip((low + high) / 2.0, base, upper) - base
    return result


def mcmaster_wilhelm_2(t_min: ArrayLike, t_max: ArrayLike, base: float, upper: float | None = None) -> Floats:
    """Degree-days of the mean of lowest and highest, each held at the base (and at `upper`) first.

    Source: McMaster & Wilhelm 1997 (Agric. For. Meteorol. 87:291-300), method 2; never below method 1 without `upper`.
    """
    low, high = _day(t_min, t_max)
    _check_limits(base, upper)
    result: Floats = (np.clip(low, base, upper) + np.clip(high, base, upper)) / 2.0 - base
    return result


@dataclass(frozen=True)
class Counting:
    """How a day's degree-days are counted: by which method, and what heat beyond the upper limit does."""

    method: Method = "single-sine"
    cutoff: Cutoff = "horizontal"

    def daily(self, t_min: ArrayLike, t_max: ArrayLike, lower: float, upper: float | None = None) -> Floats:
        """Degree-days of consecutive days, shape (…, days); arguments as in `single_triangle`.

        The double methods take the next day's lowest, or the day's own where the next is not known. The methods of the
        mean know the horizontal cutoff only. Raises ValueError for a method that is not one, or has no such cutoff.
        """
        if self.method not in METHODS:
            raise ValueError(f"degree-days are counted by {', '.join(METHODS)}, not by {self.method!r}")
        if self.method in MEANS:
            if self.cutoff != "horizontal":
                raise ValueError(f"by {self.method}, degree-days have the horizontal cutoff only")
            return MEANS[self.method](t_min, t_max, lower, upper)
        if self.method in SINGLE:
            return SINGLE[self.method](t_min, t_max, lower, upper, self.cutoff)
        low = np.asarray(t_min, dtype=float)
        after = low.copy()
        after[..., :-1] = np.where(np.isfinite(low[..., 1:]), low[..., 1:], low[..., :-1])
        return DOUBLE[self.method](low, t_max, after, lower, upper, self.cutoff)


MEANS = {"mean": mcmaster_wilhelm_1, "floored-mean": mcmaster_wilhelm_2}
SINGLE = {"single-sine": single_sine, "single-triangle": single_triangle}
DOUBLE = {"double-sine": double_sine, "double-triangle": double_triangle}


def _double(
    above: Above,
    temperatures: tuple[ArrayLike, ArrayLike, ArrayLike],
    lower: float,
    upper: float | None,
    cutoff: Cutoff,
) -> Floats:
    low, high = _day(temperatures[0], temperatures[1])
    after = np.asarray(temperatures[2], dtype=float)
    morning = _cut(above, low, high, lower, upper, cutoff)
    # A mild night can end above the day's highest; the half-day then runs up instead of down, over the same range.
    evening = _cut(above, np.minimum(after, high), np.maximum(after, high), lower, upper, cutoff)
    return _floored((morning + evening) / 2.0)


def _cut(above: Above, low: Floats, high: Floats, lower: float, upper: float | None, cutoff: Cutoff) -> Floats:
    """Degree-days between the limits.

    horizontal: development goes on at the pace of `upper` above it; intermediate: it slows above `upper` as it rose
    below; vertical: it stops above `upper`.
    """
    _check_limits(lower, upper)
    whole = above(low, high, lower)[0]
    if upper is None:
        return whole
    beyond, share = above(low, high, upper)
    if cutoff == "horizontal":
        return whole - beyond
    if cutoff == "intermediate":
        return whole - 2.0 * beyond
    if cutoff == "vertical":
        return whole - beyond - (upper - lower) * share
    raise ValueError(f"cutoff is horizontal, vertical or intermediate, not {cutoff!r}")


def _triangle_above(low: Floats, high: Floats, limit: float) -> tuple[Floats, Floats]:
    """Degree-days above a limit under a triangle, and the share of the day above it."""
    swing, over = high - low, high - limit
    share = np.divide(over, swing, out=np.where(over > 0.0, 1.0, 0.0), where=swing > _FLAT)
    share = np.clip(share, 0.0, 1.0)
    return share * over - share**2 * swing / 2.0, share


def _sine_above(low: Floats, high: Floats, limit: float) -> tuple[Floats, Floats]:
    """Degree-days above a limit under a sine wave, and the share of the day above it."""
    mean, half = (low + high) / 2.0, (high - low) / 2.0
    under = limit - mean
    depth = np.divide(under, half, out=np.where(under < 0.0, -1.0, 1.0), where=half > _FLAT)
    depth = np.clip(depth, -1.0, 1.0)
    share = np.arccos(depth) / np.pi
    return half * np.sqrt(1.0 - depth**2) / np.pi - under * share, share


def _day(t_min: ArrayLike, t_max: ArrayLike) -> tuple[Floats, Floats]:
    low, high = np.asarray(t_min, dtype=float), np.asarray(t_max, dtype=float)
    if np.any(low > high):
        raise ValueError("a day's lowest temperature lies above its highest")
    return low, high


def _check_limits(lower: float, upper: float | None) -> None:
    if upper is not None and not lower < upper:
        raise ValueError(f"the upper limit {upper} must lie above the lower {lower}")


def _floored(degree_days: Floats) -> Floats:
    """Nothing grows backwards: an intermediate cutoff can fall below 0 on very hot days."""
    result: Floats = np.maximum(degree_days, 0.0)
    return result
