"""A tree's pace in the few figures that the phone keeps and words in the grower's own units."""

from __future__ import annotations

from typing import Any

from server.reports.pace import PaceItem
from server.reports.shapes import as_json


def pace_brief(item: PaceItem) -> dict[str, Any]:
    """A tree's pace without its drawing; `why` only where nothing can be said: it tells what to note or count."""
    fields = as_json(item)
    measures = {name: _known(fields[name]) for name in ("leaves_per_shoot", "shoot_cm")}
    unsaid = {"why": item.why} if item.pace == "unknown" else {}
    names = ("tag", "tree", "pace", "further_on", "woke", "woke_seen", "evergreen", "heat", "guessed_days", "rests_on")
    return _known({name: fields[name] for name in names} | measures | unsaid)


def _known(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if value not in (None, {})}
