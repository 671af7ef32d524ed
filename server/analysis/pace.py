"""Pace of a tree: leaves a shoot and shoot growth expected by now from the heat since it woke, and where it stands.

Leaves appear in proportion to heat (the phyllochron; Wilhelm & McMaster 1995, Crop Sci. 35:1-3): value ≈ heat ÷ heat
a leaf. So ln(1 + value) against ln(1 + heat ÷ heat a leaf) is close to a straight line of slope 1; a restricted cubic
spline (Stone & Koo 1985) lets it bend. Its coefficients are partially pooled over season, tree, variety, species and
collection (nested.py); a tree is held against what all other seasons, its own earlier ones above all, expect of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from server.analysis.leaves import Z_90
from server.analysis.nested import (
    Expected,
    Known,
    Levels,
    Spread,
    expected_of,
    fit_spread,
    pick_members,
    pick_told,
    told_by,
    without,
)
from server.analysis.pacecurve import CENTRE, curve_columns, error_variance, limits

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

FREE_SD = (0.15, 0.10), (0.10, 0.07), (0.12, 0.08), (0.80, 0.30, 0.30, 0.30)
"""First guess of how season, tree, variety and species differ: level and slope (species: the bends too), logs."""
KNOWN_MEAN = (CENTRE, 1.0, 0.0, 0.0)
KNOWN_SD = (0.5, 0.25, 0.25, 0.25)
FIT_SEASONS_MAX = 300
"""So many seasons, evenly picked, fix the pooled variances well; more would only cost time."""
SURPRISE_MAX = 3.0
"""A season further off than this, in standard deviations, tells nothing about the others."""

CALIBRATION_SEASONS, CALIBRATION_DAYS = 20.0, 30.0
"""The bands are stretched to what the seasons' own counts show; their width as computed weighs as so many seasons.
Looked at are each season's last days."""

RECENT_DAYS, RECENT_VISITS = 12.0, 3
"""A tree's present place is the mean of its last counts: at most so many, from so many days."""
PASSES = 3
OUTSIDE_SD = Z_90
"""Ahead or behind: outside of what nine in ten sound trees would have."""
WATCH_SD, ACT_SD = 2.3, 3.0
"""A lag that needs the grower is rarer still, as every tree is looked at on every round …"""
WATCH_SHARE, ACT_SHARE = 0.6, 0.5
"""… the tree has no more than this share of what is expected …"""
LAG_COUNTS_MIN, LAG_NODES_MIN = 3, 4.0
"""… it was counted so often this season, and so many leaves, or their length of shoot, are expected by now."""
TOO_WIDE_SD = 0.6
"""Where ln(1 + value) is known no better than this, nothing is said of the pace."""


@dataclass(frozen=True)
class Measured:
    """Visits of one measure, ordered by season and time, all of shape (visits,).

    `season` index; `day`; `heat` °C days since the tree woke; `value` ≥ 0; `sampled` where it is a mean of few shoots.
    """

    season: Ints
    day: Floats
    heat: Floats
    value: Floats
    sampled: Bools


@dataclass(frozen=True)
class Scale:
    """What makes a measure comparable: `unit` of one node (1 leaf, or so many cm), heat a leaf of each season."""

    unit: float
    leaf_dd: Floats


@dataclass(frozen=True)
class Pace:
    """Where each season stands at its last count, shape (seasons,); NaN where nothing was counted or is expected.

    `seen` is the last count, at `heat`; `low`, `middle`, `high` what a count of a sound tree like it would be there
    (90 % band). `surprise`: its recent counts in standard deviations of such trees.
    """

    seen: Floats
    heat: Floats
    low: Floats
    middle: Floats
    high: Floats
    surprise: Floats
    expected: Expected
    error: float
    scale: Scale

    def band(self, season: int, heat: Floats, sampled: Bools | None = None) -> tuple[Floats, Floats, Floats]:
        """The band of one season along heat, for drawing: low, middle, high of a count (`sampled`: of few shoots)."""
        rows = np.full(len(heat), season)
        mean, var = _predicted(self.expected, rows, curve_columns(heat / self.scale.leaf_dd[rows]))
        few = np.ones(len(heat), dtype=bool) if sampled is None else sampled
        r = error_variance(mean, few, self.scale.unit)
        return limits(mean, np.sqrt(var + self.error * r), self.scale.unit)


def pace(measured: Measured, levels: Levels, scale: Scale, current: Bools | None = None) -> Pace:
    """Fit the curves to one measure and place every season.

    `levels`: season → tree → variety → species → collection. `current` marks the seasons whose bands matter, shape
    (seasons,), None: all; the bands' width is checked on them. Valid while shoots grow; counts after leaf fall or a
    pruning do not belong in. Raises ValueError for negative values or heat.
    """
    if np.any(measured.value < 0) or np.any(measured.heat < 0):
        raise ValueError("growth and heat cannot be negative: correct the count")
    seasons = len(scale.leaf_dd)
    design = curve_columns(measured.heat / scale.leaf_dd[measured.season])
    y = np.log1p(measured.value / scale.unit)
    recent, odd = _recent(measured, seasons), np.zeros(seasons, dtype=bool)
    known = Known(np.array(KNOWN_MEAN), np.diag(np.square(KNOWN_SD)))
    spread = start = Spread(tuple(np.diag(np.square(sd)) for sd in FREE_SD))
    expected = Expected(np.tile(known.mean, (seasons, 1)), np.tile(known.cov, (seasons, 1, 1)))
    picked = np.zeros(0, dtype=np.int64)
    r = error_variance(design @ known.mean, measured.sampled, scale.unit)
    # Once with errors by the common curve, once by each season's own, without the seasons that are odd by then.
    for _ in range(PASSES):
        told = without(told_by(measured.season, seasons, design, y, r), odd)
        picked = _whole_trees(np.flatnonzero(told.visits > 0), levels.parent[0])
        spread = fit_spread(pick_told(told, picked), pick_members(levels, picked), start, known)
        expected = expected_of(told, levels, spread, known)
        odd = np.abs(np.nan_to_num(_surprise(_Now(recent, design, y, r), expected, spread.error))) > SURPRISE_MAX
        r = error_variance((design * expected.mean[measured.season]).sum(axis=1), measured.sampled, scale.unit)
    now = _Now(recent, design, y, r)
    checked = picked[~odd[picked]] if current is None else picked[(current & ~odd)[picked]]
    stretch = _stretch(measured, now, (expected, spread.error), checked)
    expected = Expected(expected.mean, expected.cov * stretch**2)
    return _placed(measured, now, expected, spread.error * stretch**2, scale)


def place_again(measured: Measured, known: Pace, seasons: Ints) -> Pace:
    """Place some seasons anew by what is expected of them already; `seasons` are their indices in `known`."""
    scale = Scale(known.scale.unit, known.scale.leaf_dd[seasons])
    expected = Expected(known.expected.mean[seasons], known.expected.cov[seasons])
    design = curve_columns(measured.heat / scale.leaf_dd[measured.season])
    r = error_variance((design * expected.mean[measured.season]).sum(axis=1), measured.sampled, scale.unit)
    now = _Now(_recent(measured, len(seasons)), design, np.log1p(measured.value / scale.unit), r)
    return _placed(measured, now, expected, known.error, scale)


def together(surprises: Floats) -> Floats:
    """One surprise of several measures, shape (measures, seasons); NaN where none is known.

    Measures of one tree lag together, so that their mean counts as no surer than one of them.
    """
    known = np.isfinite(surprises)
    n = known.sum(axis=0)
    return np.where(n > 0, np.where(known, surprises, 0.0).sum(axis=0) / np.maximum(n, 1), np.nan)


def share_further_on(surprise: float) -> float:
    """Share of sound trees that would stand further on; NaN for NaN."""
    return float(ndtr(-surprise))


def pace_word(surprise: float) -> str:
    """Say where a tree stands: ahead, on pace, behind, or unknown where nothing can be said."""
    if np.isnan(surprise):
        return "unknown"
    if abs(surprise) <= OUTSIDE_SD:
        return "on pace"
    return "ahead" if surprise > 0 else "behind"


def lag_level(surprise: float, share: float, counts: int, nodes: float) -> str | None:
    """Level of a lag that needs the grower, "act" or "watch"; None where there is none.

    `share`: what the tree has over what is expected; `counts` this season; `nodes` expected by now.
    """
    if counts < LAG_COUNTS_MIN or not nodes >= LAG_NODES_MIN:
        return None
    if surprise <= -ACT_SD and share <= ACT_SHARE:
        return "act"
    return "watch" if surprise <= -WATCH_SD and share <= WATCH_SHARE else None


@dataclass(frozen=True)
class _Now:
    """Each season's last visits: `recent` (seasons, RECENT_VISITS), indices, −1 none; and all visits' arrays."""

    recent: Ints
    design: Floats
    y: Floats
    r: Floats


def _stretch(measured: Measured, now: _Now, fitted: tuple[Expected, float], seasons: Ints) -> float:
    """How much wider the bands must be for nine in ten counts of these seasons, left out one by one, to lie within.

    Cross-validation of the band, as conformal prediction does (Vovk, Gammerman & Shafer 2005), drawn towards 1.
    """
    expected, error = fitted
    last_day = np.full(len(now.recent), np.nan)
    last_day[now.recent[:, 0] >= 0] = measured.day[now.recent[now.recent[:, 0] >= 0, 0]]
    mine = np.isin(measured.season, seasons) & (measured.day > last_day[measured.season] - CALIBRATION_DAYS)
    if not mine.any():
        return 1.0
    mean, var = _predicted(expected, measured.season[mine], now.design[mine])
    off = np.abs(now.y[mine] - mean) / np.sqrt(var + error * now.r[mine])
    n = len(seasons)
    return float((n * np.quantile(off, 0.9) / Z_90 + CALIBRATION_SEASONS) / (n + CALIBRATION_SEASONS))


def _recent(measured: Measured, seasons: int) -> Ints:
    """Indices of each season's last visits, latest first."""
    counts = np.bincount(measured.season, minlength=seasons)
    last = np.cumsum(counts) - 1
    recent = last[:, None] - np.arange(RECENT_VISITS)[None, :]
    there = np.arange(RECENT_VISITS)[None, :] < counts[:, None]
    safe = np.clip(recent, 0, max(len(measured.day) - 1, 0))
    if len(measured.day):
        there &= measured.day[safe] > measured.day[safe[:, :1]] - RECENT_DAYS
    return np.where(there, recent, -1)


def _surprise(now: _Now, expected: Expected, error: float) -> Floats:
    """Mean of the recent counts against what is expected there, in standard deviations; NaN without counts."""
    there = now.recent >= 0
    n = there.sum(axis=1)
    if not n.any():
        return np.full(len(n), np.nan)
    weight = there / np.maximum(n, 1)[:, None]
    x = (now.design[now.recent] * weight[..., None]).sum(axis=1)
    seen = (now.y[now.recent] * weight).sum(axis=1)
    noise = error * (now.r[now.recent] * weight**2).sum(axis=1)
    mean, var = _predicted(expected, np.arange(len(n)), x)
    surprise: Floats = np.where(n > 0, seen - mean, np.nan) / np.sqrt(np.where(n > 0, var + noise, 1.0))
    return surprise


def _predicted(expected: Expected, rows: Ints, x: Floats) -> tuple[Floats, Floats]:
    mean = np.einsum("ni,ni->n", x, expected.mean[rows])
    return mean, np.einsum("ni,nij,nj->n", x, expected.cov[rows], x)


def _placed(measured: Measured, now: _Now, expected: Expected, error: float, scale: Scale) -> Pace:
    last = now.recent[:, 0]
    there = last >= 0
    rows = np.flatnonzero(there)
    columns = {name: np.full(len(last), np.nan) for name in ("seen", "heat", "low", "middle", "high", "surprise")}
    if len(rows):
        at = last[rows]
        mean, var = _predicted(expected, rows, now.design[at])
        sd = np.sqrt(var + error * now.r[at])
        columns["seen"][rows], columns["heat"][rows] = measured.value[at], measured.heat[at]
        told = sd <= TOO_WIDE_SD
        for name, values in zip(("low", "middle", "high"), limits(mean, sd, scale.unit), strict=True):
            columns[name][rows] = np.where(told, values, np.nan)
        columns["surprise"][rows] = np.where(told, _surprise(now, expected, error)[rows], np.nan)
    return Pace(
        **columns,
        expected=expected,
        error=error,
        scale=scale,
    )


def _whole_trees(rows: Ints, tree: Ints) -> Ints:
    """At most about FIT_SEASONS_MAX of the seasons, all of a tree's or none, trees evenly picked."""
    if len(rows) <= FIT_SEASONS_MAX:
        return rows
    trees = np.unique(tree[rows])
    most = max(1, FIT_SEASONS_MAX * len(trees) // len(rows))
    kept = trees[np.linspace(0, len(trees) - 1, most).astype(np.int64)]
    picked: Ints = rows[np.isin(tree[rows], kept)]
    return picked
