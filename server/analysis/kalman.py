"""Local linear trend with real gaps between visits: Kalman filter, RTS smoother, likelihood, many trees at once.

State of a tree: level (ln leaves) and slope (a day). Between two visits dt days apart the level moves on by
slope·dt; level and slope each gain a random walk, in continuous time (Harvey 1989, Forecasting, Structural Time
Series Models and the Kalman Filter, ch. 9: irregularly spaced observations). Smoother: Rauch, Tung & Striebel 1965.
The level starts diffuse, exactly: the first count sets it (Durbin & Koopman 2012, ch. 5).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import log, pi

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOG_2_PI = log(2.0 * pi)


@dataclass(frozen=True)
class Variances:
    """Variances pooled over the collection; logs of leaves, a day.

    `level_a_day` random walk of the level, `slope_a_day` of the slope, `error_scale` multiplies the counting
    variance of every visit, `slope_start` is the variance of a tree's first slope, `steady_slope_a_day` the slope's
    random walk in trees that keep their pace (steady.py; None: not told apart).
    """

    level_a_day: float = 2.0e-4
    slope_a_day: float = 2.0e-6
    error_scale: float = 1.0
    slope_start: float = 1.5e-4
    steady_slope_a_day: float | None = None

    def steady(self) -> Variances:
        """The variances of trees that keep their pace."""
        return self if self.steady_slope_a_day is None else replace(self, slope_a_day=self.steady_slope_a_day)


@dataclass(frozen=True)
class Track:
    """Estimates, shape (visits, trees); NaN before a tree's first count.

    `level`/`slope` with variances `p_ll`, `p_ls`, `p_ss`. From the filter also `innovation` (seen − predicted) and
    `innovation_var`, NaN where nothing was counted, `gain_level` and `gain_slope` (a day), by which level and slope
    followed it, 0 there, and `log_likelihood`, shape (trees,).
    """

    level: Floats
    slope: Floats
    p_ll: Floats
    p_ls: Floats
    p_ss: Floats
    innovation: Floats
    innovation_var: Floats
    gain_level: Floats
    gain_slope: Floats
    log_likelihood: Floats


def day_gaps(day: Floats) -> Floats:
    """Days since the visit before, shape (trees, visits); 0 for the first and for padding (NaN)."""
    gaps = np.zeros_like(day)
    gaps[:, 1:] = np.diff(day, axis=1)
    return np.nan_to_num(gaps, nan=0.0)


def local_trend_filter(
    log_leaves: Floats, log_var: Floats, day: Floats, variances: Variances, gained_var: Floats | None = None
) -> Track:
    """Run the Kalman filter over all trees at once.

    `log_leaves`, `log_var`, `day`: shape (trees, visits); NaN in `log_leaves` = not counted at that visit; `day` is
    increasing, NaN pads at the right. `gained_var`, of the same shape, is what the level gains beside its random walk
    in the interval before each visit (restless trees; marked shoots that part from theirs). The log-likelihood follows
    the exact-diffuse convention: a tree's first count contributes −½ ln 2π.
    """
    trees, visits = log_leaves.shape
    # Visit by visit, what is read together lies together.
    columns = log_leaves, log_var, day_gaps(day), _gained(gained_var, day)
    told, told_var, gaps, gained = (np.ascontiguousarray(values.T) for values in columns)
    out = {name: np.full((visits, trees), np.nan) for name in ("l", "s", "ll", "ls", "ss", "v", "f")}
    gains_level, gains_slope = np.zeros((visits, trees)), np.zeros((visits, trees))
    level, slope = np.full(trees, np.nan), np.zeros(trees)
    p_ll, p_ls = np.zeros(trees), np.zeros(trees)
    p_ss = np.full(trees, variances.slope_start)
    begun = np.zeros(trees, dtype=bool)
    log_likelihood = np.zeros(trees)
    for j in range(visits):
        y, noise = told[j], told_var[j] * variances.error_scale
        dt, more = np.where(begun, gaps[j], 0.0), np.where(begun, gained[j], 0.0)
        state = (level, slope, p_ll, p_ls, p_ss)
        level, p_ll, p_ls, p_ss = _predict(dt, state, _process_noise(dt, variances, more))
        seen = np.isfinite(y)
        update, first = seen & begun, seen & ~begun
        v = np.where(update, y - level, 0.0)
        f = np.where(update, p_ll + noise, 1.0)
        log_likelihood -= np.where(update, 0.5 * (LOG_2_PI + np.log(f) + v * v / f), 0.0)
        log_likelihood -= np.where(first, 0.5 * LOG_2_PI, 0.0)
        gain_l, gain_s = np.where(update, p_ll / f, 0.0), np.where(update, p_ls / f, 0.0)
        level = np.where(first, y, level + gain_l * v)
        slope = slope + gain_s * v
        p_ss = p_ss - gain_s * p_ls
        p_ls = np.where(first, 0.0, p_ls * (1.0 - gain_l))
        p_ll = np.where(first, noise, p_ll * (1.0 - gain_l))
        begun = begun | first
        out["v"][j], out["f"][j] = np.where(update, v, np.nan), np.where(update, f, np.nan)
        gains_level[j], gains_slope[j] = gain_l, gain_s
        for name, value in zip(("l", "s", "ll", "ls", "ss"), (level, slope, p_ll, p_ls, p_ss), strict=True):
            out[name][j] = np.where(begun, value, np.nan)
    return Track(
        level=out["l"],
        slope=out["s"],
        p_ll=out["ll"],
        p_ls=out["ls"],
        p_ss=out["ss"],
        innovation=out["v"],
        innovation_var=out["f"],
        gain_level=gains_level,
        gain_slope=gains_slope,
        log_likelihood=log_likelihood,
    )


def _gained(gained_var: Floats | None, day: Floats) -> Floats:
    """What the level gains in addition before each visit, shape (trees, visits); nothing where not given."""
    return np.zeros_like(day) if gained_var is None else gained_var


def _predict(
    dt: Floats, state: tuple[Floats, Floats, Floats, Floats, Floats], noise: tuple[Floats, Floats, Floats]
) -> tuple[Floats, Floats, Floats, Floats]:
    """Carry level and covariance over dt days; the slope itself stays."""
    level, slope, p_ll, p_ls, p_ss = state
    q_ll, q_ls, q_ss = noise
    new_ll = p_ll + 2.0 * dt * p_ls + dt * dt * p_ss + q_ll
    new_ls = p_ls + dt * p_ss + q_ls
    return level + dt * slope, new_ll, new_ls, p_ss + q_ss


def _process_noise(dt: Floats, q: Variances, gained: Floats) -> tuple[Floats, Floats, Floats]:
    """Covariance gained in dt days by the two random walks, and by what else the level gained."""
    of_slope = q.slope_a_day * dt
    return q.level_a_day * dt + of_slope * dt * dt / 3.0 + gained, of_slope * dt / 2.0, of_slope


def local_trend_smoother(track: Track, day: Floats, variances: Variances, gained_var: Floats | None = None) -> Track:
    """Run the Rauch-Tung-Striebel smoother backwards over a filtered track; same shapes."""
    gaps, gained = day_gaps(day), _gained(gained_var, day)
    names = ("level", "slope", "p_ll", "p_ls", "p_ss")
    out = {name: getattr(track, name).copy() for name in names}
    for j in range(track.level.shape[0] - 2, -1, -1):
        state = tuple(getattr(track, name)[j] for name in names)
        begun = np.isfinite(state[0]) & np.isfinite(day[:, j + 1])
        after = tuple(out[name][j + 1] for name in names)
        noise = _process_noise(gaps[:, j + 1], variances, gained[:, j + 1])
        for name, value in zip(names, _smooth_step(state, after, noise, gaps[:, j + 1]), strict=True):
            out[name][j, begun] = value[begun]
    return replace(track, **out)


def covariance_with_last(
    track: Track, day: Floats, variances: Variances, last: NDArray[np.int64], gained_var: Floats | None = None
) -> Floats:
    """Smoothed covariance of the state at each visit with the state at visit `last` of its tree.

    Shape (2, 2, visits, trees): [level or slope at the visit, level or slope at `last`]. `last` has shape (trees,); no
    count may follow it. NaN after it and before a tree's first count. The smoother's own gain carries the covariance
    back (de Jong & Mackinnon 1988, Biometrika 75:601-602).
    """
    gaps, gained = day_gaps(day), _gained(gained_var, day)
    visits, trees = track.level.shape
    out = np.full((2, 2, visits, trees), np.nan)
    carried = np.zeros((2, 2, trees))
    for j in range(visits - 1, -1, -1):
        if j + 1 < visits:
            state = (track.level[j], track.slope[j], track.p_ll[j], track.p_ls[j], track.p_ss[j])
            noise = _process_noise(gaps[:, j + 1], variances, gained[:, j + 1])
            (g11, g12, g21, g22), _ = _smoother_gain(state, noise, gaps[:, j + 1])
            carried = np.stack([g11 * carried[0] + g12 * carried[1], g21 * carried[0] + g22 * carried[1]])
        here = np.array([[track.p_ll[j], track.p_ls[j]], [track.p_ls[j], track.p_ss[j]]])
        carried = np.where(last == j, here, carried)
        known = (j <= last) & np.isfinite(track.level[j])
        carried = np.where(known, carried, 0.0)
        out[:, :, j, known] = carried[:, :, known]
    return out


def _smooth_step(
    state: tuple[Floats, ...], after: tuple[Floats, ...], noise: tuple[Floats, Floats, Floats], dt: Floats
) -> tuple[Floats, ...]:
    """Correct one filtered state by what came after it."""
    level, slope, a, b, c = state
    (g11, g12, g21, g22), (pa, pb, pc) = _smoother_gain(state, noise, dt)
    d_level, d_slope = after[0] - (level + dt * slope), after[1] - slope
    da, db, dc = after[2] - pa, after[3] - pb, after[4] - pc
    return (
        level + g11 * d_level + g12 * d_slope,
        slope + g21 * d_level + g22 * d_slope,
        a + g11 * g11 * da + 2 * g11 * g12 * db + g12 * g12 * dc,
        b + g11 * g21 * da + (g11 * g22 + g12 * g21) * db + g12 * g22 * dc,
        c + g21 * g21 * da + 2 * g21 * g22 * db + g22 * g22 * dc,
    )


def _smoother_gain(
    state: tuple[Floats, ...], noise: tuple[Floats, Floats, Floats], dt: Floats
) -> tuple[tuple[Floats, Floats, Floats, Floats], tuple[Floats, Floats, Floats]]:
    """Gain matrix by rows, and the predicted covariance; one that cannot be inverted is read as no slope."""
    _, _, a, b, c = state
    q_ll, q_ls, q_ss = noise
    pa, pb, pc = a + 2 * dt * b + dt * dt * c + q_ll, b + dt * c + q_ls, c + q_ss
    det = pa * pc - pb * pb
    singular = ~(det > 1e-14 * pa * np.maximum(pc, 1e-300))
    det, safe = np.where(singular, 1.0, det), np.where(pa > 0, pa, 1.0)
    m11, m12, m21, m22 = a + dt * b, b, b + dt * c, c  # filtered covariance times the transition, transposed
    gain = (
        np.where(singular, m11 / safe, (m11 * pc - m12 * pb) / det),
        np.where(singular, 0.0, (m12 * pa - m11 * pb) / det),
        np.where(singular, m21 / safe, (m21 * pc - m22 * pb) / det),
        np.where(singular, 0.0, (m22 * pa - m21 * pb) / det),
    )
    return gain, (pa, pb, pc)
