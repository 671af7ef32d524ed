"""When a drop began: the start that makes what was seen since then likeliest (Page 1954, Biometrika 41:100-115)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from server.analysis.dropfilter import EXTRA_TIMES, QUIET_SHARE, Evidence, count_logs, loss_a_day, total_logs
from server.analysis.kalman import day_gaps
from server.analysis.lag import Lag
from server.analysis.usual import Usual

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

CHUNK_TREES = 250
RATIO_MAX = 700.0
"""A count that is e^700 times likelier under a drop settles it; more would leave what a number can hold."""


def find_onsets(evidence: Evidence, usual: Usual, own: Floats, alarms: Bools, last: Ints) -> Ints:
    """Index of the visit that first saw each tree's drop; −1 where no alarm holds at visit `last`, shape (trees,).

    `own`: usual share a day, shape (trees,); `alarms`: shape (trees, visits). Only an alarm that still holds counts.
    """
    onset = np.full(len(last), -1, dtype=np.int64)
    dropping = np.flatnonzero(alarms[np.arange(len(last)), last]) if len(last) else np.zeros(0, dtype=np.int64)
    for at in range(0, len(dropping), CHUNK_TREES):
        rows = dropping[at : at + CHUNK_TREES]
        held, final = alarms[rows], last[rows]
        raised = _start_of_last_run(held, final)
        earliest = np.maximum(_start_of_gap(held, raised), 1)
        gain = _gain_by_start(evidence.rows(rows), usual, own[rows], final, int(earliest.min(initial=1)))
        index = np.arange(held.shape[1])
        allowed = (index <= raised[:, None]) & (index >= earliest[:, None])
        onset[rows] = np.argmax(np.where(allowed, gain, -np.inf), axis=1)
    return onset


def _gain_by_start(evidence: Evidence, usual: Usual, own: Floats, final: Ints, first: int) -> Floats:
    """Log-likelihood ratio of a drop that began before each visit, its size fitted, against none; (trees, visits)."""
    trees, n_visits = evidence.visits.day.shape
    gaps = day_gaps(evidence.visits.day)
    gain = np.zeros((trees, n_visits, len(EXTRA_TIMES)))
    lag = Lag.none(gain.shape)
    for j in range(first, n_visits):
        # Only a drop that has begun lags.
        begun = slice(first, j + 1)
        behind = Lag(lag.level[:, begun], lag.slope[:, begun])
        behind.fall_behind(gaps[:, j, None, None], loss_a_day(evidence, usual, j)[:, None, :])
        sound, drop = count_logs(evidence, usual, own[:, None], j)
        ratio = (drop[:, 0] - sound)[:, None, :] + total_logs(evidence, usual, behind.level, j)
        ratio -= total_logs(evidence, usual, np.zeros((trees, 1, 1)), j)
        told = np.log((1.0 - QUIET_SHARE) * np.exp(np.minimum(ratio, RATIO_MAX)) + QUIET_SHARE)
        gain[:, begun] += np.where((j <= final)[:, None, None], told, 0.0)
        behind.catch_up(evidence.totals.gain_level[:, j, None, None], evidence.totals.gain_slope[:, j, None, None])
    best: Floats = gain.max(axis=2)
    return best


def _start_of_last_run(held: Bools, final: Ints) -> Ints:
    """Index at which the alarm that still holds at `final` was raised."""
    off = ~held & (np.arange(held.shape[1]) <= final[:, None])
    last_off = held.shape[1] - 1 - np.argmax(off[:, ::-1], axis=1)
    return np.where(off.any(axis=1), last_off + 1, 0)


def _start_of_gap(held: Bools, raised: Ints) -> Ints:
    """Index after the end of the alarm before the one raised at `raised`; 0 where there was none."""
    earlier = held & (np.arange(held.shape[1]) < raised[:, None])
    last_on = held.shape[1] - 1 - np.argmax(earlier[:, ::-1], axis=1)
    return np.where(earlier.any(axis=1), last_on + 1, 0)
