"""The findings that need the grower, and what a whole place shares as a notice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from server.reports.cold_watch import cold
from server.reports.company import Company
from server.reports.computed import Computed, compute
from server.reports.crop import overloaded
from server.reports.forecast import Forecast
from server.reports.lagging import behind
from server.reports.leafdrops import leaf_drops
from server.reports.load import load
from server.reports.scorching import LightItem, scorched
from server.reports.shapes import AlertItem, LeafDropItem, Report
from server.reports.shedding import shedding_places
from server.reports.unvisited import unvisited

LEVELS = ("act", "watch")


def alerts(on: date | None = None) -> Report:
    """All findings up to the end of `on` (None: today), those to act on first."""
    return alert_report(compute(load(on)))


def alert_report(done: Computed) -> Report:
    """Lay the findings out as items, and what whole places share as notices."""
    items = [*tree_findings(done), *unvisited(done.collection)]
    items.sort(key=order_of)
    return Report(done.collection.on, items, shedding_places(done.judged))


def tree_findings(done: Computed, company: Company | None = None, ahead: Forecast | None = None) -> list[AlertItem]:
    """The findings on each tree that rest on itself, in no order.

    `company` and `ahead`: what is known of all trees and places, where those that were computed are a part.
    """
    burdened = overloaded(done.crops)
    # A tree that carries too much lags for that reason, and one piece of advice is enough.
    lagging = behind(done.paced, besides={item.tree for item in burdened})
    dropping, burnt = _told_once(leaf_drops(done.judged, company), scorched(done.collection))
    return [*dropping, *burdened, *lagging, *cold(done.collection, ahead), *burnt]


def _told_once(dropping: list[LeafDropItem], burnt: list[LightItem]) -> tuple[list[LeafDropItem], list[LightItem]]:
    """A drop that a move began is what its step in light did: the step becomes a reason of the drop.

    Only damage to the leaves or sun noted as its cause make a finding beside it.
    """
    steps = {item.tree: item for item in burnt if item.level == "watch"}
    by_step = {
        item.tree: steps[item.tree]
        for item in dropping
        if item.tree in steps and item.likely_causes[0]["cause"] == "move" and _not_before(item, steps[item.tree])
    }
    return (
        [replace(i, why=[*i.why, by_step[i.tree].why[0]]) if i.tree in by_step else i for i in dropping],
        [item for item in burnt if item is not by_step.get(item.tree)],
    )


def _not_before(drop: LeafDropItem, step: LightItem) -> bool:
    """Whether a drop began after the move that brought more light; days as ISO 8601, which sort as days do."""
    return drop.since is not None and step.since is not None and drop.since >= step.since


def order_of(item: AlertItem) -> tuple[int, str, str]:
    """Findings to act on come first, then by kind and tag."""
    return LEVELS.index(item.level), item.kind, item.tag
