"""Curves nested in one another: a season's in its tree, the tree's in its variety, species and collection.

A hierarchical linear model (Lindley & Smith 1972, J. R. Stat. Soc. B 34:1-41) for repeated measures (Laird & Ware
1982, Biometrics 38:963-974): each member's coefficients deviate from its parent's, with a covariance a level. Given
the covariances everything is normal and exact: information is passed up the levels and back down, and what comes
down to a member leaves out its own. The covariances are fitted by EM (Dempster, Laird & Rubin 1977), empirical Bayes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

EM_STEPS_MAX = 40
EM_STEPS_AT_REST = 0.01
"""EM ends when no variance changes by more than this share."""
PRIOR_MEMBERS = 4.0
"""Weight of a level's first guess, in members; so few trees do not make a variance vanish. A setting."""
PRIOR_VISITS = 10.0
"""Weight of the first guess of the error, in visits."""


@dataclass(frozen=True)
class Levels:
    """Who belongs to whom: `parent[l][i]` is the index at level l+1 of member i of level l; the last level is one."""

    parent: tuple[Ints, ...]


@dataclass(frozen=True)
class Spread:
    """Covariance of the deviations at each level, shape (k, k) on the first k coefficients, and the error's factor."""

    level: tuple[Floats, ...]
    error: float = 1.0


@dataclass(frozen=True)
class Known:
    """What is assumed before anything was seen: the collection's coefficients, mean (p,) and covariance (p, p)."""

    mean: Floats
    cov: Floats


@dataclass(frozen=True)
class Told:
    """What the visits say of each season's coefficients, for an error factor of 1.

    `info` = Σ x xᵀ/r, shape (seasons, p, p); `pull` = Σ x y/r, (seasons, p); `square` = Σ y²/r and their number
    `visits`, both (seasons,).
    """

    info: Floats
    pull: Floats
    square: Floats
    visits: Floats


@dataclass(frozen=True)
class Expected:
    """Coefficients expected of each season before its own visits: mean (seasons, p), covariance (seasons, p, p)."""

    mean: Floats
    cov: Floats


def told_by(season: Ints, seasons: int, design: Floats, y: Floats, r: Floats) -> Told:
    """Sum up visits, ordered by `season`; `design` (visits, p), `y` and its variance `r` (visits,)."""
    p = design.shape[1]
    info, pull = np.zeros((seasons, p, p)), np.zeros((seasons, p))
    by_weight = design / r[:, None]
    for a in range(p):
        pull[:, a] = np.bincount(season, by_weight[:, a] * y, seasons)
        for b in range(a + 1):
            info[:, a, b] = info[:, b, a] = np.bincount(season, by_weight[:, a] * design[:, b], seasons)
    square: Floats = np.bincount(season, y * y / r, seasons).astype(np.float64)
    return Told(info, pull, square, np.bincount(season, minlength=seasons).astype(np.float64))


def without(told: Told, left_out: Bools) -> Told:
    """The same with some seasons silenced."""
    keep = (~left_out).astype(float)
    return Told(told.info * keep[:, None, None], told.pull * keep[:, None], told.square * keep, told.visits * keep)


def expected_of(told: Told, levels: Levels, spread: Spread, known: Known) -> Expected:
    """What is expected of every season by all the others, its own left out (cavity means of belief propagation)."""
    up = _upward(told, levels, spread)
    mean, cov = _cavities(up, levels, spread, known)[0]
    return Expected(mean, cov + _full(spread.level[0], told.pull.shape[1]))


def fit_spread(told: Told, levels: Levels, start: Spread, known: Known) -> Spread:
    """Fit the levels' covariances and the error by penalised EM from the first guess `start`."""
    spread = start
    for _ in range(EM_STEPS_MAX):
        new = _em_step(told, levels, spread, start, known)
        before, after = _variances(spread), _variances(new)
        spread = new
        if np.all(np.abs(after - before) <= EM_STEPS_AT_REST * before):
            break
    return spread


def pick_members(levels: Levels, chosen: Ints) -> Levels:
    """The levels with only the chosen members of the first, and their ancestors, numbered anew."""
    parents, rows = [], chosen
    for parent in levels.parent:
        rows, anew = np.unique(parent[rows], return_inverse=True)
        parents.append(anew.astype(np.int64))
    return Levels(tuple(parents))


def pick_told(told: Told, chosen: Ints) -> Told:
    """What only the chosen seasons say."""
    return Told(told.info[chosen], told.pull[chosen], told.square[chosen], told.visits[chosen])


@dataclass(frozen=True)
class _Said:
    """Information of the members of a level from below, and what of it reaches their parents through the spread."""

    info: Floats
    pull: Floats
    info_on: Floats
    pull_on: Floats


def _upward(told: Told, levels: Levels, spread: Spread) -> list[_Said]:
    info, pull = told.info / spread.error, told.pull / spread.error
    p = pull.shape[1]
    said = []
    for parent, cov in zip(levels.parent, spread.level, strict=True):
        info_on, pull_on = _through(info, pull, _full(cov, p))
        said.append(_Said(info, pull, info_on, pull_on))
        members = int(parent.max()) + 1 if len(parent) else 0
        info, pull = np.zeros((members, p, p)), np.zeros((members, p))
        np.add.at(info, parent, info_on)
        np.add.at(pull, parent, pull_on)
    said.append(_Said(info, pull, info, pull))
    return said


def _through(info: Floats, pull: Floats, cov: Floats) -> tuple[Floats, Floats]:
    """Information about θ when `info` and `pull` are about θ + δ, δ normal with covariance `cov` (may be singular)."""
    widened = np.eye(cov.shape[-1]) + info @ cov
    both = np.linalg.solve(widened, np.concatenate([info, pull[..., None]], axis=-1))
    passed = both[..., :-1]
    return (passed + np.swapaxes(passed, -1, -2)) / 2.0, both[..., -1]


def _cavities(up: list[_Said], levels: Levels, spread: Spread, known: Known) -> list[tuple[Floats, Floats]]:
    """For each level, mean and covariance of each member's parent with that member's own information left out."""
    p = len(known.mean)
    prior = np.linalg.inv(known.cov)
    total_info, total_pull = prior + up[-1].info, prior @ known.mean + up[-1].pull
    found: list[tuple[Floats, Floats]] = []
    for number in range(len(levels.parent) - 1, -1, -1):
        said, parent = up[number], levels.parent[number]
        cov: Floats = np.linalg.inv(total_info[parent] - said.info_on).astype(np.float64)
        mean: Floats = np.einsum("nij,nj->ni", cov, total_pull[parent] - said.pull_on)
        found.append((mean, cov))
        down = np.linalg.inv(cov + _full(spread.level[number], p))
        total_info = down + said.info
        total_pull = np.einsum("nij,nj->ni", down, mean) + said.pull
    return found[::-1]


def _em_step(told: Told, levels: Levels, spread: Spread, start: Spread, known: Known) -> Spread:
    up = _upward(told, levels, spread)
    cavities = _cavities(up, levels, spread, known)
    new = []
    for said, (mean, cov), now, guess in zip(up[:-1], cavities, spread.level, start.level, strict=True):
        k = len(now)
        # Seen from the deviation, the parent's uncertainty is one more source of error.
        info, pull = _through(said.info, said.pull - np.einsum("nij,nj->ni", said.info, mean), cov)
        post = np.linalg.inv(np.linalg.inv(now) + info[:, :k, :k])
        delta = np.einsum("nij,nj->ni", post, pull[:, :k])
        square = post.sum(axis=0) + delta.T @ delta
        new.append((square + PRIOR_MEMBERS * guess) / (len(post) + PRIOR_MEMBERS))
    return replace(spread, level=tuple(new), error=_error(told, spread, start, cavities[0]))


def _error(told: Told, spread: Spread, start: Spread, cavity: tuple[Floats, Floats]) -> float:
    """The error's factor, given what each season's coefficients are after its visits."""
    mean, cov = cavity
    prior = np.linalg.inv(cov + _full(spread.level[0], mean.shape[1]))
    post = np.linalg.inv(prior + told.info / spread.error)
    beta = np.einsum("nij,nj->ni", post, np.einsum("nij,nj->ni", prior, mean) + told.pull / spread.error)
    second = post + beta[:, :, None] * beta[:, None, :]
    left = told.square - 2.0 * (told.pull * beta).sum(axis=1) + (told.info * second).sum(axis=(1, 2))
    return float((left.sum() + PRIOR_VISITS * start.error) / (told.visits.sum() + PRIOR_VISITS))


def _full(cov: Floats, p: int) -> Floats:
    """A covariance of the first k coefficients among all p."""
    full = np.zeros((p, p))
    full[: len(cov), : len(cov)] = cov
    return full


def _variances(spread: Spread) -> Floats:
    return np.concatenate([*(np.diag(cov) for cov in spread.level), [spread.error]])
