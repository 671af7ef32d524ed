"""The running odds behind the leaf-drop test: sound or dropping, filtered over all trees at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc, gammaincinv

from server.analysis.common import Common
from server.analysis.counts import Exposure, Visits
from server.analysis.decline import Totals, student_log
from server.analysis.lag import Lag
from server.analysis.usual import Usual

Floats = NDArray[np.float64]
Reals = NDArray[np.floating[Any]]
Ints = NDArray[np.int64]
Arrays = TypeVar("Arrays", Visits, Exposure, Common, Totals)

# Settings of the test, tuned on simulated seasons (tests/analysis/test_seasons.py); no published source.
EXTRA_TIMES = np.array([2.0, 3.0, 6.0, 12.0, 25.0, 50.0])
"""What comes on top when dropping, in times the collection's usual."""
EXTRA_PRIOR = np.array([0.20, 0.35, 0.20, 0.10, 0.10, 0.05])
RATE_EDGES = np.array([0.0, 0.1, 0.25, 0.4, 0.55, 0.7, 0.82, 0.91, 0.97, 0.995, 1.0])
"""Quantiles that bound the cells of the grid over a tree's own usual rate."""
ENDS_A_DAY = 1.0 / 300.0
EXTRA_PRIOR_MOVED = np.array([0.10, 0.15, 0.20, 0.20, 0.20, 0.15])
"""The same for a drop that a move began: larger."""
MOVE_REACH_DAYS = 5.0
"""Most drops that a move begins come within so many days."""
QUIET_SHARE = 0.05
"""Share of a dropping tree's visits that look as usual: drop comes in waves."""
SIZE_STAYS = 0.95
"""Chance that the size of a drop stays from one visit to the next."""
HEED_TOTALS = 0.5
"""How far the totals are heeded beside counted fallen leaves; less in a common fall."""
COMMON_RESPONSE = 0.2
"""Squared CV of how differently trees answer what is common to their place."""
COMMON_MAGNIFIES = 0.5
"""How far a drop is larger where all shed more: by this part of what is common (share)."""
TOTAL_MIN = 1e-300
"""Below this a sum of likelihoods is none."""


@dataclass(frozen=True)
class Evidence:
    """All that bears on the test, shape (trees, visits): counts, exposures, peers, and what the totals say."""

    visits: Visits
    exposed: Exposure
    common: Common
    totals: Totals

    def rows(self, pick: Ints) -> Evidence:
        """Keep some trees."""
        return Evidence(
            picked(self.visits, pick), picked(self.exposed, pick), picked(self.common, pick), picked(self.totals, pick)
        )


def picked(record: Arrays, pick: Ints) -> Arrays:
    """Keep some rows of a dataclass of arrays."""
    return type(record)(**{name: value[pick] for name, value in vars(record).items()})


def rate_grid(usual: Usual) -> tuple[Floats, Floats]:
    """Cut the gamma of usual rates into cells: each cell's mean rate (share a day) and probability."""
    edges = gammaincinv(usual.shape, RATE_EDGES)
    weight = np.diff(RATE_EDGES)
    rates: Floats = np.diff(gammainc(usual.shape + 1.0, edges)) / weight * usual.mean
    return np.maximum(rates, 1e-7), weight


def begin_chance(visits: Visits, usual: Usual) -> Floats:
    """Chances that a drop begins of itself and by a move in the interval before each visit, (2, trees, visits).

    That by a move fades in days; over a long gap it is left what the other leaves, as both together are one at most.
    """
    gaps = np.zeros_like(visits.day)
    gaps[:, 1:] = np.nan_to_num(np.diff(visits.day, axis=1))
    ago = np.where(np.isfinite(visits.moved_ago), visits.moved_ago, 1e6)
    before = np.maximum(ago - gaps, 0.0)
    after_move = usual.begins_after_move * visits.moved_weight
    after_move = after_move * (np.exp(-before / MOVE_REACH_DAYS) - np.exp(-ago / MOVE_REACH_DAYS))
    by_itself = 1.0 - np.exp(-gaps * usual.begins_a_day)
    return np.stack([by_itself, np.minimum(after_move, 1.0 - by_itself)])


@dataclass(frozen=True)
class Step:
    """Likelihoods of one visit: `sound` (trees, rates), `dropping` (trees, rates, sizes), divided by exp(`top`)."""

    sound: Reals
    dropping: Reals
    top: Reals


@dataclass(frozen=True)
class Odds:
    """`history`: probability of dropping after each visit (trees, visits); `own`: usual share a day (trees);
    `log_likelihood` of all counts (trees), without constants that do not depend on the settings.
    """

    history: Floats
    own: Floats
    log_likelihood: Floats


def visit_likelihoods(evidence: Evidence, usual: Usual, rates: Floats, lag: Floats, j: int) -> Step:
    """Give the likelihood of what visit `j` told.

    `rates` has shape (rates,) or (trees, rates), `lag` of the trend's level (trees, 1 + sizes): sound comes first.
    """
    sound, drop = count_logs(evidence, usual, rates, j)
    totals = total_logs(evidence, usual, lag, j)
    sound = sound + totals[:, :1]
    drop += totals[:, None, 1:].astype(np.float32)
    top = np.maximum(sound.max(axis=1), drop.max(axis=(1, 2)))
    sound, drop = np.exp(sound - top[:, None]), np.exp(drop - top.astype(np.float32)[:, None, None])
    return Step(sound, (1.0 - QUIET_SHARE) * drop + QUIET_SHARE * sound[..., None], top)


def count_logs(evidence: Evidence, usual: Usual, rates: Floats, j: int) -> tuple[Reals, Reals]:
    """Log-likelihoods of the fallen counted at visit `j`: sound (trees, rates), dropping (trees, rates, sizes).

    `rates` has shape (rates,) or (trees, rates). The same for all where nobody counted.
    """
    counted = evidence.exposed.counted[:, j]
    factor, spread = evidence.common.factor[:, j], evidence.common.spread[:, j]
    y = np.where(counted, evidence.visits.fallen[:, j], 0.0)
    leaf_days = np.where(counted, evidence.exposed.leaf_days[:, j], 1e-9)
    unlike = COMMON_RESPONSE * np.maximum(1.0 - 1.0 / np.maximum(factor, 1.0), 0.0) ** 2
    size = 1.0 / (usual.extra_spread + spread + unlike)
    expected = leaf_days[:, None] * _rate_now(np.atleast_2d(rates), factor[:, None], usual.mean)
    extra = leaf_days[:, None] * loss_a_day(evidence, usual, j)
    sound = _negative_binomial(y[:, None], size[:, None], expected)
    # Most of the work: in single precision it takes a quarter of the time, and is off by less than 1e-4.
    seen, spread_by = (each.astype(np.float32)[:, None, None] for each in (y, size))
    mean = expected.astype(np.float32)[..., None] + extra.astype(np.float32)[:, None, :]
    return sound, _negative_binomial(seen, spread_by, mean)


def total_logs(evidence: Evidence, usual: Usual, lag: Floats, j: int) -> Floats:
    """Log-likelihoods of the total at visit `j` where the trend lags so far behind, (trees, …); 0 if not counted."""
    counted, factor = evidence.exposed.counted[:, j], evidence.common.factor[:, j]
    # A leaf that fell by chance is missing from the total too: where the fallen were counted, the total repeats them.
    heed = np.where(counted, HEED_TOTALS / np.maximum(factor, 1.0), 1.0)
    shape = (len(heed), *(1,) * (lag.ndim - 1))
    surprise, sd = evidence.totals.surprise[:, j], _total_sd(evidence, usual, j)
    logs: Floats = heed.reshape(shape) * student_log(surprise.reshape(shape), sd.reshape(shape), lag)
    return logs


def loss_a_day(evidence: Evidence, usual: Usual, j: int) -> Floats:
    """What each size of a drop takes a day on top of what is usual at visit `j`, ln(leaves), shape (trees, sizes)."""
    factor = evidence.common.factor[:, j]
    magnified = np.minimum(factor, 1.0 + COMMON_MAGNIFIES * (factor - 1.0))
    loss: Floats = (magnified * usual.mean)[:, None] * EXTRA_TIMES
    return loss


def _total_sd(evidence: Evidence, usual: Usual, j: int) -> Floats:
    """Widen the surprise's deviation by the chance in the falling itself and by how trees answer what is common."""
    factor, days = evidence.common.factor[:, j], evidence.totals.days[:, j]
    expected = factor * days * usual.mean
    chance = expected / np.maximum(evidence.exposed.leaves[:, j], 1.0)
    answer = np.sqrt(COMMON_RESPONSE) * np.maximum(factor - 1.0, 0.0) * days * usual.mean
    sd: Floats = np.sqrt(evidence.totals.sd[:, j] ** 2 + chance + answer**2)
    return sd


def _rate_now(rates: Floats, factor: Floats, mean: float) -> Floats:
    """Usual rate under a common factor: times the factor, or plus what it adds to the mean tree, whichever is more.

    Nobody knows whether trees that shed little in summer also shed less of what is common; the larger reading alarms
    fewer.
    """
    return np.maximum(rates * factor, rates + mean * (factor - 1.0))


def _negative_binomial(y: Reals, size: Reals, mean: Reals) -> Reals:
    """Log-probability of a count by size and mean, without the terms that do not depend on the mean."""
    value: Reals = y * np.log(mean) - (y + size) * np.log1p(mean / size)
    return value


def filter_odds(evidence: Evidence, usual: Usual) -> Odds:
    """Run the test over some trees.

    The recursion keeps, for every cell of the rate grid, the weight of "sound" and of "dropping by so much".
    """
    rates, weight = rate_grid(usual)
    trees, n_visits = evidence.visits.day.shape
    sound = np.tile(weight, (trees, 1))
    dropping = np.zeros((trees, len(rates), len(EXTRA_TIMES)))
    begins = begin_chance(evidence.visits, usual)
    history = np.full((trees, n_visits), np.nan)
    log_likelihood = np.zeros(trees)
    gaps = np.zeros_like(evidence.visits.day)
    gaps[:, 1:] = np.nan_to_num(np.diff(evidence.visits.day, axis=1))
    lag = Lag.none((trees, 1 + len(EXTRA_TIMES)))
    for j in range(n_visits):
        here = np.isfinite(evidence.visits.day[:, j])
        begin, end = begins[:, :, j, None], 1.0 - np.exp(-gaps[:, j] * ENDS_A_DAY)
        change = _changes(begin[0], begin[1], end)
        lag = lag.mixed(
            np.concatenate([sound.sum(axis=1)[:, None], np.ones(len(rates)) @ dropping], axis=1)[..., None] * change
        )
        loss = np.pad(loss_a_day(evidence, usual, j), ((0, 0), (1, 0)))
        lag.fall_behind(gaps[:, j, None], loss)
        step = visit_likelihoods(evidence, usual, rates, lag.level, j)
        lag.catch_up(evidence.totals.gain_level[:, j, None], evidence.totals.gain_slope[:, j, None])
        new_drop = dropping @ change[:, 1:, 1:] + sound[..., None] * change[:, None, 0, 1:]
        new_sound = sound * change[:, :1, 0] + (dropping @ change[:, 1:, :1])[..., 0]
        new_drop *= step.dropping
        new_sound *= step.sound
        total = new_sound.sum(axis=1) + new_drop.sum(axis=(1, 2))
        # A count that no state foresees at all tells none of them apart: they stay as they were.
        told = here & (total > TOTAL_MIN)
        total = np.maximum(total, TOTAL_MIN)
        new_sound /= total[:, None]
        new_drop /= total[:, None, None]
        log_likelihood[here] += np.log(total[here]) + step.top[here]
        sound[told], dropping[told] = new_sound[told], new_drop[told]
        history[here, j] = dropping[here].sum(axis=(1, 2))
    own = (sound + dropping.sum(axis=2)) @ rates
    return Odds(history, own, log_likelihood)


def _changes(by_itself: Floats, by_move: Floats, ends: Floats) -> Floats:
    """Chances to go from each state to each over an interval, (trees, 1 + sizes, 1 + sizes); sound comes first.

    `by_itself` and `by_move`, shape (trees, 1): a drop begins; `ends`, shape (trees,): it ends.
    """
    sizes = len(EXTRA_TIMES)
    change = np.empty((len(ends), 1 + sizes, 1 + sizes))
    change[:, 0, :1] = 1.0 - by_itself - by_move
    change[:, 0, 1:] = by_itself * EXTRA_PRIOR + by_move * EXTRA_PRIOR_MOVED
    change[:, 1:, 0] = ends[:, None]
    stays = SIZE_STAYS * np.eye(sizes) + (1.0 - SIZE_STAYS) * EXTRA_PRIOR
    change[:, 1:, 1:] = (1.0 - ends)[:, None, None] * stays
    return change
