"""Records of a few places with readings past and ahead, sent through sync like a phone's."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from server.records.database import set_setting
from tests.reports.growing_records import ZONE, at, stored
from tests.support.collection import Phone

ON = date(2026, 4, 11)


def before(days: int) -> date:
    """So many days before the day on which the reports are asked."""
    return ON - timedelta(days=days)


class Garden:
    """Places, varieties by species, and trees of them."""

    def __init__(self) -> None:
        set_setting("time_zone", ZONE.key)
        self.phone = Phone()
        self.varieties: dict[str, str] = {}

    def place(self, name: str, cover: str | None = "open", **fields: Any) -> str:
        change = self.phone.change("place", place=name, cover=cover, **{"latitude": 48.0, **fields})
        stored(self.phone, change)
        return str(change["record"])

    def tree(self, place: str | None, species: str = "fig", **fields: Any) -> str:
        if species not in self.varieties:
            change = self.phone.change("variety", variety=f"Marlow {species}", species=species)
            stored(self.phone, change)
            self.varieties[species] = change["record"]
        return self.phone.tree(**{"variety": self.varieties[species], "place": place, "pot_litres": 12.0, **fields})

    def read(self, place: str, on: date, low: float | None, high: float | None = None) -> None:
        stored(self.phone, self.phone.change("reading", place=place, date=on.isoformat(), t_min_c=low, t_max_c=high))

    def see(self, tree: str, on: date, **counts: Any) -> None:
        stored(self.phone, self.phone.change("observation", tree=tree, seen_at=at(on), **counts))

    def move(self, tree: str, on: date, place: str) -> None:
        stored(self.phone, self.phone.change("move", tree=tree, moved_at=at(on), to_place=place))

    def work(self, tree: str, on: date, task: str, **fields: Any) -> None:
        stored(self.phone, self.phone.change("work", tree=tree, done_at=at(on, 6), task=task, **fields))
