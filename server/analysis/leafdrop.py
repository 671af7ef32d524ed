"""Leaf drop: a sequential likelihood-ratio test on each tree's losses, against what is usual for it, there and then.

A tree is either sound or dropping. Sound, it loses leaves at its own usual rate times the factor of place and time;
dropping, something comes on top. Both states predict every count (gamma-Poisson) and every change of the total
(Student's t); the running odds between them, with a small chance a day of beginning or ending, are Shiryaev's
sequential test (Shiryaev 1963, Theory Probab. Appl. 8:22-46), the tree's unknown usual rate and the size of the drop
being averaged over grids. Drop comes in waves (J. Environ. Hort. 5:102, 1987), so one quiet visit clears nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from server.analysis.common import Common, common_factor, exchange, sum_up
from server.analysis.counts import Exposure, Visits, exposure, typical_level
from server.analysis.decline import PeerSurprises, Totals, surprise_scale, tell, weigh_totals
from server.analysis.dropfilter import Evidence, filter_odds, picked
from server.analysis.kalman import Track
from server.analysis.onset import find_onsets
from server.analysis.peer_sums import PeerSums, mean_by_cell
from server.analysis.usual import Usual, fit_usual

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# Settings of the alarm, tuned on simulated seasons (tests/analysis/test_seasons.py); no published source.
ALARM_PROBABILITY = 0.55
CLEAR_PROBABILITY = 0.2
QUIET_VISITS_TO_CLEAR = 2
BEGINS_TRIED = (1 / 800, 1 / 200, 1 / 100)
"""Chances a day of a beginning drop among which the collection's own is chosen; the other settings likewise."""
BEGINS_AFTER_MOVE_TRIED = (0.06, 0.12, 0.5)
MEAN_TIMES = (0.8, 0.9, 1.1)
SHAPE_TIMES = (0.7, 1.4)
EXTRA_SPREAD_TRIED = (0.005, 0.02, 0.06, 0.15, 0.3)
FIT_TREES_MAX = 200
LEARN_TREES_MAX = 600
FIT_PASSES = 2
CHUNK_TREES = 1000


@dataclass(frozen=True)
class DropResult:
    """One row a tree: `alarm` and `probability` at its last visit, `onset` = index of the visit that first saw the
    drop (−1 without alarm), `own_usual` = its usual share a day. `history` and `alarms`: the same after each visit.
    """

    alarm: Bools
    probability: Floats
    onset: Ints
    own_usual: Floats
    history: Floats
    alarms: Bools
    usual: Usual
    common: Common
    exposure: Exposure
    learned: Learned


@dataclass(frozen=True)
class Learned:
    """What was learned of all trees together, by which some of them can be judged again.

    `typical`: ln(leaves) of the middle tree; `scale` of surprises; `told_own`: the rates, shape (trees,), by which each
    tree's counts stand in `others`, the sums by place and day; `peers`: surprises by place and days.
    """

    usual: Usual
    typical: float
    scale: float
    told_own: Floats
    others: PeerSums
    peers: PeerSurprises

    def covers(self, visits: Visits) -> bool:
        """Whether visits fit in; days or places that nobody knew then need everything judged anew."""
        return self.others.covers(visits.day, visits.place)


def find_leaf_drop(visits: Visits, track: Track) -> DropResult:
    """Judge every tree at every visit; `track` is the filtered trend of the same visits, shape (visits, trees)."""
    typical, told = typical_level(track), tell(visits, track)
    exposed, scale, peers = exposure(visits, track, typical), surprise_scale(told), PeerSurprises.of(told)
    totals = weigh_totals(told, track, scale, peers)
    usual, own, others, common = _learn(visits, exposed, totals)
    learned = Learned(usual, typical, scale, own, others, peers)
    return _judge(Evidence(visits, exposed, common, totals), learned)


def find_again(
    visits: Visits, track: Track, learned: Learned, rows: Ints, former: Iterable[tuple[Ints, Visits, Exposure]]
) -> DropResult:
    """Judge some trees again by what was learned of all, their new counts put in the place of their former ones.

    `rows`: theirs in the collection; `former`: what they had told before, in parts, with the rows of each part.
    Changes the sums in `learned`. `learned.covers(visits)` must hold.
    """
    exposed, usual = exposure(visits, track, learned.typical), learned.usual
    for part, seen, before in former:
        exchange(learned.others, seen, before, learned.told_own[part], usual.mean, usual.extra_spread, times=-1.0)
    own = learned.told_own[rows]
    exchange(learned.others, visits, exposed, own, usual.mean, usual.extra_spread)
    common = common_factor(visits, exposed, own, usual.mean, usual.extra_spread, learned.others)
    told = tell(visits, track)
    learned.peers.exchange(told, rows)
    totals = weigh_totals(told, track, learned.scale, learned.peers)
    return _judge(Evidence(visits, exposed, common, totals), learned)


def _judge(evidence: Evidence, learned: Learned) -> DropResult:
    """Run the test, hold its alarms, and say when each drop began."""
    history, own = _filter_in_chunks(evidence, learned.usual)
    alarms = _hold_alarms(evidence, history, own)
    last = np.maximum(np.isfinite(evidence.visits.day).sum(axis=1) - 1, 0)
    rows = np.arange(len(last))
    onset = find_onsets(evidence, learned.usual, own, alarms, last)
    probability, exposed = history[rows, last], evidence.exposed
    return DropResult(
        alarms[rows, last], probability, onset, own, history, alarms, learned.usual, evidence.common, exposed, learned
    )


def _learn(visits: Visits, exposed: Exposure, totals: Totals) -> tuple[Usual, Floats, PeerSums, Common]:
    """Learn what is usual and what is common by turns, leaving out what looks like a drop.

    Of a large collection a part does the learning, evenly picked; more would only cost time.
    """
    trees = len(visits.day)
    fallen = np.where(exposed.counted, visits.fallen, np.nan)
    if trees > LEARN_TREES_MAX:
        part = np.linspace(0, trees - 1, LEARN_TREES_MAX).astype(int)
        seen = picked(visits, part)
        usual, _, _, common = _learn(seen, picked(exposed, part), picked(totals, part))
        factor = mean_by_cell(common.factor, seen.day, seen.place, visits.day, visits.place)
        own = _own_rates(usual, fallen, exposed.leaf_days * factor)
        return usual, own, *_common(visits, exposed, own, usual)
    usual = _first_guess(fallen, exposed.leaf_days)
    own = np.full(trees, usual.mean)
    pick = np.unique(np.linspace(0, max(trees - 1, 0), min(trees, FIT_TREES_MAX)).astype(int))
    for _ in range(FIT_PASSES):
        _, common = _common(visits, exposed, own, usual)
        some = Evidence(visits, exposed, common, totals).rows(pick)
        sound = 1.0 - np.nan_to_num(filter_odds(some, usual).history)
        usual = _refine(some, fit_usual(fallen[pick], some.exposed.leaf_days * some.common.factor, sound))
        own = _own_rates(usual, fallen, exposed.leaf_days * common.factor)
    return usual, own, *_common(visits, exposed, own, usual)


def _common(visits: Visits, exposed: Exposure, own: Floats, usual: Usual) -> tuple[PeerSums, Common]:
    """What all trees say together, and what follows for each from the others."""
    others = sum_up(visits, exposed, own, usual.mean, usual.extra_spread)
    return others, common_factor(visits, exposed, own, usual.mean, usual.extra_spread, others)


def _refine(evidence: Evidence, usual: Usual) -> Usual:
    """Adjust each setting in turn by the likelihood of all counts, drops included."""
    best, best_fit = usual, _fit(evidence, usual)
    for name, values in (
        ("begins_a_day", BEGINS_TRIED),
        ("begins_after_move", BEGINS_AFTER_MOVE_TRIED),
        ("mean", tuple(usual.mean * times for times in MEAN_TIMES)),
        ("extra_spread", EXTRA_SPREAD_TRIED),
        ("shape", tuple(usual.shape * times for times in SHAPE_TIMES)),
    ):
        for value in values:
            tried = replace(best, **{name: value})
            if tried == best:
                continue
            fit = _fit(evidence, tried)
            if fit > best_fit:
                best, best_fit = tried, fit
    return best


def _fit(evidence: Evidence, usual: Usual) -> float:
    """Log-likelihood of the counts with the weak penalties on what is usual."""
    fit = filter_odds(evidence, usual).log_likelihood.sum()
    return float(fit) - usual.penalty()


def _first_guess(fallen: Floats, leaf_days: Floats) -> Usual:
    """Start from the middle tree: the median over trees of fallen leaves per leaf-day."""
    known = np.isfinite(fallen)
    at_risk = np.where(known, leaf_days, 0.0).sum(axis=1)
    lost = np.nansum(np.where(known, fallen, 0.0), axis=1)
    enough = at_risk > 0
    if enough.sum() < 5:
        return Usual()
    return Usual(mean=max(float(np.median((lost + 0.5)[enough] / at_risk[enough])), 1e-5))


def _own_rates(usual: Usual, fallen: Floats, leaf_days: Floats) -> Floats:
    """Own rate a tree, each visit's count capped so that a drop does not pass for usual."""
    known = np.isfinite(fallen)
    expected = usual.mean * np.where(known, leaf_days, 0.0)
    capped = np.minimum(np.where(known, fallen, 0.0), 3.0 * expected + 2.0)
    return usual.own_rate(capped.sum(axis=1), np.where(known, leaf_days, 0.0).sum(axis=1))


def _filter_in_chunks(evidence: Evidence, usual: Usual) -> tuple[Floats, Floats]:
    """Run the filter over slices of the collection, which bounds its memory."""
    trees = len(evidence.visits.day)
    parts = [
        filter_odds(evidence.rows(np.arange(at, min(at + CHUNK_TREES, trees))), usual)
        for at in range(0, trees, CHUNK_TREES)
    ]
    if not parts:
        return np.zeros_like(evidence.visits.day), np.zeros(0)
    return np.concatenate([p.history for p in parts]), np.concatenate([p.own for p in parts])


def _hold_alarms(evidence: Evidence, history: Floats, own: Floats) -> Bools:
    """Raise an alarm at ALARM_PROBABILITY; clear it when unlikely again and the last visits were quiet in a row."""
    visits, exposed = evidence.visits, evidence.exposed
    expected = own[:, None] * evidence.common.factor * exposed.leaf_days
    calm_count = visits.fallen <= expected + np.sqrt(expected) + 0.5
    calm_total = evidence.totals.surprise > -evidence.totals.sd
    told = exposed.counted | np.isfinite(evidence.totals.surprise)
    calm = np.where(exposed.counted, calm_count, calm_total)
    alarms = np.zeros(history.shape, dtype=bool)
    on, quiet = np.zeros(len(history), dtype=bool), np.zeros(len(history), dtype=int)
    for j in range(history.shape[1]):
        # Padding after the last visit neither raises nor clears.
        p = np.nan_to_num(history[:, j], nan=CLEAR_PROBABILITY)
        quiet = np.where(told[:, j], np.where(calm[:, j], quiet + 1, 0), quiet)
        clear = (p < CLEAR_PROBABILITY) & (quiet >= QUIET_VISITS_TO_CLEAR)
        on = np.where(p >= ALARM_PROBABILITY, True, on & ~clear)
        alarms[:, j] = on
    return alarms
