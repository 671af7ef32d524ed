"""One tree on one page: its card, where it stands, its series and what was found about it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date
from typing import Any

from server.errors import NotFound
from server.records.queries import recorded_by
from server.reports.alerts import alert_report
from server.reports.computed import compute
from server.reports.life import companions, health_series
from server.reports.load import load
from server.reports.pace import pace_item
from server.reports.shapes import as_json, plain
from server.reports.trends import trend_report
from server.wording.said import say


def tree_page(tree: str, on: date | None = None) -> dict[str, Any]:
    """One tree (by id) up to the end of `on` (None: today): record, trend and health with their series, pace, findings,
    companions, and the devices that recorded its facts.

    Raises NotFound for an id that no standing tree has.
    """
    collection = load(on)
    row = collection.rows.get(tree)
    if row is None:
        raise NotFound(say("No standing tree has this id; it may have been retired or withdrawn."))
    done = compute(collection)
    place = collection.place_now(collection.trees[row])
    (trend,) = trend_report(done.judged, with_series=True, only=tree).document()["items"]
    found = alert_report(done).document()["items"]
    return {
        "on": collection.on.isoformat(),
        "record": {name: value for name, value in asdict(collection.trees[row]).items() if value is not None},
        "stands_in": place.place if place else None,
        "trend": trend,
        "pace": as_json(pace_item(done.paced, row, with_drawing=True)),
        "findings": [finding for finding in found if finding["tree"] == tree],
        "health": [plain(point) for point in health_series(done.judged, row)],
        "companions": plain(companions(done.judged, row)),
        "recorded_by": recorded_by(tree),
    }
