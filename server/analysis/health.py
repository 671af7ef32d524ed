"""Health of a tree from 0 to 100, as the weighted mean of named parts that a screen can open up.

Its weights and scales are a grower's settings, no published source; it orders the trees of one collection, and says
nothing of the distance between two collections.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

from server.wording.said import Said, say

# Weights and scales are a grower's settings; common practice, no published source.
WEIGHTS = {"leaves kept": 0.4, "growth": 0.3, "damage": 0.3}
GROWTH_AS_PEERS = 80.0
"""A tree that grows like the middle tree of the collection scores this for growth."""
GROWTH_POINTS_A_PERCENT = 2.0
"""Points for each percent a week above or below the middle tree."""


@dataclass(frozen=True)
class Part:
    """One part of the health figure: its name, score 0-100, weight in this tree's mean, and what it rests on."""

    name: str
    score: float
    weight: float
    because: str


@dataclass(frozen=True)
class Health:
    """The figure, 0-100, and its parts."""

    score: float
    parts: tuple[Part, ...]


def health(
    leaves: float | None,
    peak_leaves: float | None,
    change_percent_per_week: float | None,
    peers_percent_per_week: float | None,
    damage_percent: float | None,
) -> Health | None:
    """Compose the health figure from what is known; None where nothing is.

    `peak_leaves` is the most leaves the smoothed trend saw this season; the changes are this tree's and the middle
    tree's of the collection.
    """
    found: list[tuple[str, float, str]] = []
    if _known(leaves) and _known(peak_leaves) and peak_leaves:
        kept = min(100.0, 100.0 * (leaves or 0.0) / peak_leaves)
        counts = {"leaves": float(leaves or 0.0), "most": float(max(peak_leaves, leaves or 0.0))}
        found.append(("leaves kept", kept, say("{leaves:.0f} of {most:.0f} leaves, the most", **counts)))
    if _known(change_percent_per_week) and _known(peers_percent_per_week):
        ahead = (change_percent_per_week or 0.0) - (peers_percent_per_week or 0.0)
        score = min(100.0, max(0.0, GROWTH_AS_PEERS + GROWTH_POINTS_A_PERCENT * ahead))
        found.append(("growth", score, _growth_words(change_percent_per_week or 0.0, peers_percent_per_week or 0.0)))
    if _known(damage_percent):
        damaged = say("{percent:.0f} % of the leaf damaged", percent=damage_percent)
        found.append(("damage", 100.0 - (damage_percent or 0.0), damaged))
    if not found:
        return None
    total = sum(WEIGHTS[name] for name, _, _ in found)
    parts = tuple(Part(name, round(score, 1), round(WEIGHTS[name] / total, 3), why) for name, score, why in found)
    return Health(round(sum(p.score * p.weight for p in parts), 1), parts)


def _growth_words(own: float, peers: float) -> Said:
    return say("leaves change by {own:+.1f} % a week, the middle tree by {peers:+.1f} %", own=own, peers=peers)


def _known(value: float | None) -> bool:
    return value is not None and not isnan(value)
