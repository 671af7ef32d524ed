"""The reports' dataclasses and how they become JSON documents."""

from __future__ import annotations

from dataclasses import dataclass, field, is_dataclass
from datetime import date
from math import isfinite
from typing import Any


@dataclass(frozen=True)
class SeriesPoint:
    """One count: its time (RFC 3339 date), leaves counted, and the 90 % band of the smoothed trend."""

    at: str
    leaves: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Mark:
    """A move or a piece of work on the chart."""

    at: str
    what: str
    kind: str


@dataclass(frozen=True)
class TrendItem:
    """One tree's health trend; changes in percent a week; None where too little was counted."""

    tag: str
    tree: str
    leaves: float | None
    leaves_low: float | None
    leaves_high: float | None
    change_percent_per_week: float | None
    change_low: float | None
    change_high: float | None
    direction: str
    health: float | None
    health_parts: list[dict[str, Any]] = field(default_factory=list)
    series: list[SeriesPoint] | None = None
    marks: list[Mark] | None = None


@dataclass(frozen=True)
class AlertItem:
    """A finding that needs the grower: what, how urgent, since when, why, and one thing to do."""

    tag: str
    tree: str
    kind: str
    level: str
    since: str | None
    why: list[str]
    advice: str


@dataclass(frozen=True)
class LeafDropItem(AlertItem):
    """A leaf drop; rates in percent of the leaves a day, as counted."""

    loss_percent_per_day: float = 0.0
    usual_percent_per_day: float = 0.0
    probability: float = 0.0
    leaves_lost: int = 0
    likely_causes: list[dict[str, Any]] = field(default_factory=list)


@dataclass(frozen=True)
class Notice:
    """Something that a whole place shares, said once; nothing to do for any one tree."""

    kind: str
    place: str
    since: str
    why: list[str]


@dataclass(frozen=True)
class Report:
    """A report as of a day."""

    on: date
    items: list[Any]
    notices: list[Notice] | None = None

    def document(self) -> dict[str, Any]:
        """The report as plain values, ready for JSON; what is not there is left out."""
        body: dict[str, Any] = {"on": self.on.isoformat(), "items": [as_json(item) for item in self.items]}
        if self.notices is not None:
            body["notices"] = [as_json(notice) for notice in self.notices]
        return body


def as_json(item: Any) -> dict[str, Any]:
    """A report's item as plain values; a series that was not asked for is left out; `from_` is written as from."""
    fields = {name: plain(value) for name, value in vars(item).items()}
    shown = {name: value for name, value in fields.items() if value is not None or name not in ("series", "marks")}
    return {name.removesuffix("_"): value for name, value in shown.items()}


def plain(value: Any) -> Any:
    """A value with the dataclasses in it as dicts; unlike `asdict`, which copies, it takes a fifth of the time."""
    if value is None or isinstance(value, (str, int, float)):
        return value
    if isinstance(value, list):
        return [plain(each) for each in value]
    if is_dataclass(value):
        return {name: plain(each) for name, each in vars(value).items()}
    return value


def rounded(value: float, digits: int) -> float | None:
    """A figure to so many digits; None where it is not known."""
    return round(float(value), digits) if isfinite(value) else None
