"""What the overview says of each tree, as JSON, so that it need not be written again while nothing changes there."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from functools import cache
from typing import Any

from server.reports.alerts import order_of
from server.reports.computed import Computed
from server.reports.crop import crop_item
from server.reports.pace import pace_item
from server.reports.pacelist import pace_brief
from server.reports.shapes import AlertItem, as_json
from server.reports.trends import trend_report

Finding = tuple[tuple[int, str, str], str]
"""A finding's place in the order of all, and its JSON."""


@dataclass(frozen=True)
class Piece:
    """One tree's trend, pace, crop (None where there is nothing to say) and findings."""

    trend: str
    pace: str
    crop: str | None
    findings: list[Finding] = field(default_factory=list)


def pieces_of(done: Computed, peers: float, found: list[AlertItem]) -> list[Piece]:
    """The pieces of the trees that were computed; `peers`: the middle tree's change; `found`: their findings."""
    findings: dict[str, list[Finding]] = {}
    for item in found:
        findings.setdefault(item.tree, []).append(finding(item))
    trends = trend_report(done.judged, with_series=False, peers=peers).items
    return [
        Piece(
            trend=written(as_json(trends[row])),
            pace=written(pace_brief(pace_item(done.paced, row))),
            crop=_crop(done, row),
            findings=findings.get(tree.id, []),
        )
        for row, tree in enumerate(done.collection.trees)
    ]


def finding(item: AlertItem) -> Finding:
    """A finding as it is kept."""
    return order_of(item), written(as_json(item))


def written(value: Any) -> str:
    """JSON without spaces, in ASCII."""
    return _encoder().encode(value)


@cache
def _encoder() -> json.JSONEncoder:
    """Kept, as to make one takes longer than to write a small item."""
    return json.JSONEncoder(separators=(",", ":"))


def _crop(done: Computed, row: int) -> str | None:
    """A tree's crop, where it bears or could not be judged."""
    item = crop_item(done.crops, row)
    tells = item.leaves_per_fruit is not None or item.surplus is None
    return written(as_json(item)) if tells else None
