"""What the totals say about loss: one-step surprises of the trend, against the peers of the same place and days."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from server.analysis.common import LATELY_MOVED_DAYS
from server.analysis.counts import Visits
from server.analysis.kalman import Track

Floats = NDArray[np.float64]

STUDENT_DEGREES = 12.0
"""Miscounts happen: surprises are judged by Student's t with so many degrees of freedom."""
PEERS_MIN = 5
"""From so many peers on, what they share is taken off a tree's surprise."""
PEER_DAYS = 3.0
SHARED_UNSURE = 0.5
"""A tree may answer what is common by so much more or less (share of it, one standard deviation)."""
SCALE_MIN, SCALE_MAX = 0.5, 2.0


def surprises(visits: Visits, track: Track) -> tuple[Floats, Floats]:
    """Give the surprise in ln(leaves) at each visit and its standard deviation, shape (trees, visits), NaN unknown.

    The deviation is rescaled by the collection's median absolute surprise, so that trees in trouble do not hide
    themselves by widening it; what a tree's peers share (their median a day, moved ones left out) is subtracted.
    """
    v, sd = track.innovation.T.copy(), np.sqrt(track.innovation_var.T)
    known = np.isfinite(v)
    if known.sum() >= 10:
        scale = float(np.median(np.abs(v[known] / sd[known]))) / 0.6745
        sd = sd * float(np.clip(scale, SCALE_MIN, SCALE_MAX))
    settled = known & (visits.moved_ago > LATELY_MOVED_DAYS)
    days = days_since_total(visits)
    shared = _peer_median(visits, v / days, settled) * days
    return v - shared, np.hypot(sd, SHARED_UNSURE * shared)


def days_since_total(visits: Visits) -> Floats:
    """Days over which the change of the total at each visit came about, shape (trees, visits); at least 0.25."""
    days = np.ones_like(visits.day)
    since = np.full(len(visits.day), np.nan)
    for j in range(visits.day.shape[1]):
        days[:, j] = visits.day[:, j] - since
        since = np.where(np.isfinite(visits.log_leaves[:, j]), visits.day[:, j], since)
    return np.maximum(np.nan_to_num(days, nan=1.0), 0.25)


def _peer_median(visits: Visits, v: Floats, settled: NDArray[np.bool_]) -> Floats:
    """Median surprise a day of the settled trees of a place in a span of PEER_DAYS; 0 where fewer than PEERS_MIN."""
    shared = np.zeros_like(v)
    if not settled.any():
        return shared
    span = np.floor(np.nan_to_num(visits.day) / PEER_DAYS).astype(np.int64)
    cell = visits.place * (span.max() + 1) + span
    keys, values = cell[settled], v[settled]
    order = np.lexsort((values, keys))
    keys, values = keys[order], values[order]
    unique, start, size = np.unique(keys, return_index=True, return_counts=True)
    middle = values[start + size // 2]
    lower = values[start + (size - 1) // 2]
    median = np.where(size > PEERS_MIN, (middle + lower) / 2, 0.0)
    at = np.searchsorted(unique, cell).clip(0, len(unique) - 1)
    found = (unique[at] == cell) & (visits.place >= 0)
    return np.where(found, median[at], 0.0)


def student_log(surprise: Floats, sd: Floats, shift: Floats) -> Floats:
    """Log density of a surprise under Student's t shifted by −`shift` (ln units); 0 where unknown."""
    z = (surprise + shift) / sd
    n = STUDENT_DEGREES
    constant = gammaln((n + 1) / 2) - gammaln(n / 2) - 0.5 * np.log(n * np.pi)
    value: Floats = constant - 0.5 * (n + 1) * np.log1p(z * z / n)
    return np.where(np.isfinite(value), value, 0.0)
