"""Findings for trees that lag behind what their kind, their variety and their own earlier years let expect."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from server.analysis.pace import WATCH_SD, lag_level
from server.reports.growth import LEAF_UNIT, SHOOT_UNIT
from server.reports.pace import Paced, iso, pace_item
from server.reports.pacewords import Stand
from server.reports.shapes import AlertItem
from server.wording.said import say

ADVICE = say("Knock it out of its pot and look at the roots; let it carry no fruit until it catches up.")


@dataclass(frozen=True)
class BehindItem(AlertItem):
    """A tree that lags; `probability` that a sound tree like it would be further on."""

    probability: float = 0.0
    leaves_per_shoot: Stand | None = None
    shoot_cm: Stand | None = None


def behind(paced: Paced, besides: set[str] | None = None) -> list[BehindItem]:
    """Findings for trees that lag as hardly a sound tree would; those `besides` (record ids) have a better reason."""
    found = []
    for row in np.flatnonzero(np.nan_to_num(paced.surprise) <= -WATCH_SD):
        season = int(paced.growth.seasons.now[row])
        level = lag_level(float(paced.surprise[row]), *_lag(paced, season))
        if level is None or paced.collection.trees[row].id in (besides or ()):
            continue
        item = pace_item(paced, int(row))
        found.append(
            BehindItem(
                tag=item.tag,
                tree=item.tree,
                kind="behind",
                level=level,
                since=_since(paced, season),
                why=item.why,
                advice=ADVICE,
                probability=item.further_on or 0.0,
                leaves_per_shoot=item.leaves_per_shoot,
                shoot_cm=item.shoot_cm,
            )
        )
    return found


def _lag(paced: Paced, season: int) -> tuple[float, int, float]:
    """What the tree has over what is expected, the counts, and the nodes expected; of both measures the better."""
    shares, counts, nodes = [1.0], [0], [0.0]
    for measured, found, unit in (
        (paced.growth.leaves, paced.leaves, LEAF_UNIT),
        (paced.growth.shoots, paced.shoots, SHOOT_UNIT),
    ):
        if np.isfinite(found.middle[season]):
            shares.append(float(found.seen[season] / max(found.middle[season], 1e-9)))
            counts.append(int((measured.season == season).sum()))
            nodes.append(float(found.middle[season]) / unit)
    return max(shares[1:], default=1.0), max(counts), max(nodes)


def _since(paced: Paced, season: int) -> str | None:
    """The first day of the run of counts, up to the last, that lie below the band."""
    begun: list[float] = []
    for measured, found in ((paced.growth.leaves, paced.leaves), (paced.growth.shoots, paced.shoots)):
        mine = measured.season == season
        low = found.band(season, measured.heat[mine])[0]
        below = measured.value[mine] < low
        if len(below) and below[-1]:
            fine = np.flatnonzero(~below)
            begun.append(float(measured.day[mine][fine[-1] + 1 if len(fine) else 0]))
    return iso(paced.collection, min(begun)) if begun else None
