"""The findings that need the grower, and what a whole place shares as a notice."""

from __future__ import annotations

from datetime import date

from server.reports.cold_watch import cold
from server.reports.crop import overloaded
from server.reports.crops import find_crops
from server.reports.judge import Judged, judge
from server.reports.lagging import behind
from server.reports.leafdrops import leaf_drops
from server.reports.load import load
from server.reports.pace import Paced, find_paces
from server.reports.scorching import scorched
from server.reports.shapes import AlertItem, Report
from server.reports.shedding import shedding_places
from server.reports.unvisited import unvisited

LEVELS = ("act", "watch")


def alerts(on: date | None = None) -> Report:
    """All findings up to the end of `on` (None: today), those to act on first."""
    return alert_report(judge(load(on)))


def alert_report(judged: Judged, paced: Paced | None = None) -> Report:
    """Lay the findings out as items, and what whole places share as notices; `paced` where it is known already."""
    burdened = overloaded(find_crops(judged))
    # A tree that carries too much lags for that reason, and one piece of advice is enough.
    lagging = behind(paced or find_paces(judged.collection), besides={item.tree for item in burdened})
    items: list[AlertItem] = [*leaf_drops(judged), *burdened, *lagging, *unvisited(judged.collection)]
    items += [*cold(judged.collection), *scorched(judged.collection)]
    items.sort(key=lambda item: (LEVELS.index(item.level), item.kind, item.tag))
    return Report(judged.collection.on, items, shedding_places(judged))
