"""What the totals say about loss: one-step surprises of the trend, against the peers of the same place and days."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaln

from server.analysis.common import LATELY_MOVED_DAYS
from server.analysis.counts import Visits
from server.analysis.kalman import Track

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STUDENT_DEGREES = 10.0
"""Miscounts happen: surprises are judged by Student's t with so many degrees of freedom."""
PEERS_MIN = 5
"""From so many peers on, what they share is taken off a tree's surprise."""
PEER_DAYS = 3.0
SPANS = 100_000
"""More spans of PEER_DAYS than any date needs, so that place and span make one number."""
SHARED_UNSURE = 0.5
"""A tree may answer what is common by so much more or less (share of it, one standard deviation)."""
SCALE_MIN, SCALE_MAX = 0.5, 2.0


@dataclass(frozen=True)
class Told:
    """What the trend did not foresee, shape (trees, visits): `surprise` in ln(leaves) and its deviation `sd`, NaN
    unknown; `settled` where it tells of its place; `days` over which it came about; `cell` the place and time.
    """

    surprise: Floats
    sd: Floats
    settled: Bools
    days: Floats
    cell: Ints


def tell(visits: Visits, track: Track) -> Told:
    """Lay the one-step surprises of the filtered trend out by place and time."""
    v = track.innovation.T.copy()
    settled = np.isfinite(v) & (visits.moved_ago > LATELY_MOVED_DAYS)
    span = np.floor(np.nan_to_num(visits.day) / PEER_DAYS).astype(np.int64)
    cell = np.where(visits.place >= 0, visits.place * SPANS + span, -1)
    return Told(v, np.sqrt(track.innovation_var.T), settled, days_since_total(visits), cell)


def surprise_scale(told: Told) -> float:
    """By how much deviations are rescaled: the collection's median absolute surprise, within bounds.

    So trees in trouble do not hide themselves by widening it.
    """
    known = np.isfinite(told.surprise)
    if known.sum() < 10:
        return 1.0
    scale = float(np.median(np.abs(told.surprise[known] / told.sd[known]))) / 0.6745
    return float(np.clip(scale, SCALE_MIN, SCALE_MAX))


def surprises(told: Told, scale: float, peers: PeerSurprises) -> tuple[Floats, Floats]:
    """Give the surprise in ln(leaves) at each visit and its standard deviation, shape (trees, visits), NaN unknown.

    What a tree's peers share (their median a day, moved ones left out) is subtracted.
    """
    shared = peers.median(told.cell) * told.days
    return told.surprise - shared, np.hypot(told.sd * scale, SHARED_UNSURE * shared)


@dataclass
class PeerSurprises:
    """Surprises a day of settled trees by place and time, ordered by cell and size; exchanged tree by tree.

    `cell`, `value`, `tree` (row) and `gone` (taken out since) have one entry a surprise; `new` holds (cell, value,
    tree) of those put in since.
    """

    cell: Ints
    value: Floats
    tree: Ints
    gone: Bools
    new: tuple[Ints, Floats, Ints]

    @classmethod
    def of(cls, told: Told) -> PeerSurprises:
        """Those of all trees."""
        cell, value, tree = _settled(told, np.arange(len(told.cell)))
        order = np.lexsort((value, cell))
        nothing = np.zeros(0, dtype=np.int64)
        return cls(cell[order], value[order], tree[order], np.zeros(len(cell), bool), (nothing, np.zeros(0), nothing))

    def exchange(self, told: Told, rows: Ints) -> None:
        """Put in what some trees tell now, for what they told before; `rows` are theirs in the collection."""
        again = np.zeros(max(int(self.tree.max(initial=-1)), int(rows.max(initial=-1))) + 1, dtype=bool)
        again[rows] = True
        self.gone |= again[self.tree]
        kept = ~np.isin(self.new[2], rows)
        put = _settled(told, rows)
        cell, value, tree = (np.concatenate([old[kept], now]) for old, now in zip(self.new, put, strict=True))
        self.new = cell, value, tree

    def median(self, cells: Ints) -> Floats:
        """Median surprise a day in each cell; 0 where there are no more than PEERS_MIN."""
        distinct, inverse = np.unique(cells, return_inverse=True)
        if self.gone.any() or len(self.new[0]):
            middles = np.array([self._one_median(int(cell)) for cell in distinct])
        else:
            middles = self._medians(distinct)
        shared: Floats = np.where(cells >= 0, middles[inverse.reshape(cells.shape)], 0.0)
        return shared

    def _medians(self, distinct: Ints) -> Floats:
        """Medians of cells while nothing was exchanged: looked up in the ordered list."""
        start, end = (np.searchsorted(self.cell, distinct, side=side) for side in ("left", "right"))
        size = end - start
        if not len(self.value):
            return np.zeros(len(distinct))
        middle, lower = (
            np.minimum(start + np.maximum(half, 0), len(self.value) - 1) for half in (size // 2, (size - 1) // 2)
        )
        return np.where(size > PEERS_MIN, (self.value[middle] + self.value[lower]) / 2.0, 0.0)

    def _one_median(self, cell: int) -> float:
        start, end = np.searchsorted(self.cell, cell, side="left"), np.searchsorted(self.cell, cell, side="right")
        there = self.value[start:end][~self.gone[start:end]]
        there = np.concatenate([there, self.new[1][self.new[0] == cell]])
        return float(np.median(there)) if len(there) > PEERS_MIN else 0.0


def _settled(told: Told, rows: Ints) -> tuple[Ints, Floats, Ints]:
    """Cell, surprise a day and row of what settled trees tell."""
    tree = np.repeat(rows[:, None], told.cell.shape[1], axis=1)[told.settled]
    return told.cell[told.settled], (told.surprise / told.days)[told.settled], tree


def days_since_total(visits: Visits) -> Floats:
    """Days over which the change of the total at each visit came about, shape (trees, visits); at least 0.25."""
    days = np.ones_like(visits.day)
    since = np.full(len(visits.day), np.nan)
    for j in range(visits.day.shape[1]):
        days[:, j] = visits.day[:, j] - since
        since = np.where(np.isfinite(visits.log_leaves[:, j]), visits.day[:, j], since)
    return np.maximum(np.nan_to_num(days, nan=1.0), 0.25)


@dataclass(frozen=True)
class Totals:
    """What the totals say, shape (trees, visits): `surprise` in ln(leaves), peers' taken off, with its deviation `sd`,
    NaN unknown; `days` over which it came about; the trend's gains, by which level and slope (a day) followed it.
    """

    surprise: Floats
    sd: Floats
    days: Floats
    gain_level: Floats
    gain_slope: Floats


def weigh_totals(told: Told, track: Track, scale: float, peers: PeerSurprises) -> Totals:
    """Put together what the totals say, against the peers of the same place and days."""
    return Totals(*surprises(told, scale, peers), told.days, track.gain_level.T, track.gain_slope.T)


def student_log(surprise: Floats, sd: Floats, shift: Floats) -> Floats:
    """Log density of a surprise under Student's t shifted by −`shift` (ln units); 0 where unknown."""
    z = (surprise + shift) / sd
    n = STUDENT_DEGREES
    constant = gammaln((n + 1) / 2) - gammaln(n / 2) - 0.5 * np.log(n * np.pi)
    value: Floats = constant - 0.5 * (n + 1) * np.log1p(z * z / n)
    return np.where(np.isfinite(value), value, 0.0)
