"""Lives through a season of CSV files, round by round, and measures how its findings fare against the truth."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from server.records.database import write as in_one_transaction
from server.records.settings import save_settings
from server.reports.alerts import alerts
from server.reports.shapes import LeafDropItem
from server.tables.importing import import_files
from tests.reports.leaf_seasons import FIRST, Season, Setting, write_season

MISSED = 99


@dataclass
class Bars:
    """`slow`, `sudden`: visits from the trouble to the finding (MISSED: never); `by_move`: the move named first;
    `false`: sound trees that alarmed, `false_here` those of place 0; `loss`, percent a day of the slow ones.
    """

    slow: list[int] = field(default_factory=list)
    sudden: list[int] = field(default_factory=list)
    by_move: list[bool] = field(default_factory=list)
    false: list[bool] = field(default_factory=list)
    false_here: list[bool] = field(default_factory=list)
    loss: list[float] = field(default_factory=list)
    notices: set[str] = field(default_factory=set)

    def missed(self) -> float:
        """Share of the trees in trouble that were never found."""
        return float(np.mean(np.array(self.slow + self.sudden) == MISSED))

    def words(self) -> str:
        """The figures on one line."""
        found = [f"slow: median {np.median(self.slow):.0f} visits of {len(self.slow)}"] if self.slow else []
        if self.sudden:
            first, named = np.mean(np.array(self.sudden) == 1), np.mean(self.by_move)
            found.append(f"sudden: first visit {first:.3f} of {len(self.sudden)}, move named {named:.3f}")
        if self.slow or self.sudden:
            found.append(f"missed {self.missed():.3f}")
        return "; ".join([*found, f"false {np.mean(self.false):.3f} of {len(self.false)}"])


def live(folder: Path, setting: Setting, seed: int, bars: Bars) -> Season:
    """Import a season into the open, empty collection, ask for the alerts after each round, and add up the bars."""
    season = write_season(folder, setting, seed)
    with in_one_transaction():
        save_settings({"time_zone": "UTC"})
    import_files((folder,))
    found: dict[int, dict[str, LeafDropItem]] = {}
    for day in season.rounds:
        report = alerts(day_of(day))
        found[day] = {item.tag: item for item in report.items if isinstance(item, LeafDropItem)}
        bars.notices |= {notice.place for notice in report.notices or []}
    for tag, kind in season.kind.items():
        _score(bars, season, tag, kind, found)
    return season


def day_of(day: int) -> date:
    """The calendar day."""
    return FIRST + timedelta(days=day)


def _score(bars: Bars, season: Season, tag: str, kind: str, found: dict[int, dict[str, LeafDropItem]]) -> None:
    alarmed = [day for day in season.rounds if tag in found[day]]
    if kind == "sound":
        bars.false.append(bool(alarmed))
        if season.place[tag] == "Back wall":
            bars.false_here.append(bool(alarmed))
        return
    after = [day for day in season.visits[tag] if day > season.trouble_day[tag] + (kind == "sudden")]
    hits = [day for day in alarmed if after and day >= after[0]]
    visits = sum(day <= hits[0] for day in after) if hits else MISSED
    (bars.slow if kind == "slow" else bars.sudden).append(visits)
    if hits and kind == "sudden":
        bars.by_move.append(found[hits[0]][tag].likely_causes[0]["cause"] == "move")
    elif hits:
        bars.loss.append(found[hits[-1]][tag].loss_percent_per_day)
