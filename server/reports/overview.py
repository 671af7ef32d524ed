"""The one document that the phone keeps for offline: findings, trends, paces and crops, with a version for its ETag."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from hashlib import sha256
from typing import Any

from server.records.database import get_setting, read_counter
from server.records.settings import read_settings
from server.reports.alerts import alert_report
from server.reports.crop import crop_report
from server.reports.crops import find_crops
from server.reports.judge import judge
from server.reports.kinds import SETTING
from server.reports.load import load, today
from server.reports.pace import find_paces
from server.reports.pacelist import pace_list
from server.reports.trends import trend_report

# Raised when what the reports say changes, so that phones fetch the overview anew.
FORMAT = 3


@dataclass(frozen=True)
class Overview:
    """The document and its version; the same version means the same document."""

    version: str
    document: dict[str, Any]


def overview(on: date | None = None) -> Overview:
    """Findings, notices, trends, paces and crops up to the end of `on` (None: today); kept until something changes."""
    return _made(version(on), on or today())


def version(on: date | None = None) -> str:
    """Name the state that an overview rests on: the newest change, the grower's settings, and the day."""
    shown, own = read_settings(), sorted(get_setting(SETTING, {}).items())
    parts = (FORMAT, get_setting("epoch"), read_counter(), shown.collection, shown.time_zone, own, on or today())
    return sha256(repr(parts).encode()).hexdigest()[:32]


@lru_cache(maxsize=4)
def _made(version: str, on: date) -> Overview:
    """Build the overview; the version is part of the key, so that a change makes a new one."""
    judged = judge(load(on))
    paced = find_paces(judged.collection)
    found = alert_report(judged, paced).document()
    shown = read_settings()
    body = {
        "on": on.isoformat(),
        "collection": shown.collection,
        "time_zone": shown.time_zone,
        "alerts": found["items"],
        "notices": found["notices"],
        "trends": trend_report(judged, with_series=False).document()["items"],
        "pace": pace_list(paced),
        "crop": [item for item in crop_report(find_crops(judged)).document()["items"] if _tells(item)],
    }
    return Overview(version, body)


def _tells(crop: dict[str, Any]) -> bool:
    """Whether a crop says anything: the tree bears, or could not be judged."""
    return crop["leaves_per_fruit"] is not None or crop["surplus"] is None
