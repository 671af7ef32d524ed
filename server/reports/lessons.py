"""Notes for another year that come back when their time does: at a day of the year, or at a sum of heat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from server.records.plans import LessonRow, lessons_kept
from server.reports.heat import HeatItem, heat

# A grower's settings; common practice, no published source.
SHOWN_BEFORE_DAYS, SHOWN_AFTER_DAYS = 3, 21
"""A note on a day of the year comes back a little before it and stays this long after it."""
SHOWN_DEGREE_DAYS = 150.0
"""A note on a heat sum stays while so much more gathers: about two weeks of spring, one of summer."""


@dataclass(frozen=True)
class Lesson:
    """A note whose time has come; of one tied to a piece of work, the screens ask when that work is chosen."""

    id: str
    lesson: str
    variety: str | None
    place: str | None
    tree: str | None
    task: str | None


def season_heat(on: date) -> dict[str, float]:
    """Degree-days gathered so far this season, by place id; nothing is reckoned where no note waits for heat."""
    if all(row.degree_days is None for row in lessons_kept()):
        return {}
    items: list[HeatItem] = heat(on).items
    return {item.id: item.degree_days for item in items if item.degree_days is not None}


def lessons_due(on: date, degree_days: Mapping[str, float]) -> list[Lesson]:
    """The notes that belong to this day; `degree_days` gathered so far this season, by place id."""
    return [
        Lesson(row.id, row.lesson, row.variety, row.place, row.tree, row.task)
        for row in lessons_kept()
        if not _heeded(row, on) and (_by_day(row, on) or _by_heat(row, degree_days))
    ]


def _heeded(row: LessonRow, on: date) -> bool:
    """Whether it was heeded within this year's window."""
    heeded = date.fromisoformat(row.heeded_on) if row.heeded_on else None
    return heeded is not None and on - heeded < timedelta(days=180)


def _by_day(row: LessonRow, on: date) -> bool:
    if row.on_day is None:
        return False
    month, day = (int(part) for part in row.on_day.split("-"))
    before, after = timedelta(days=SHOWN_BEFORE_DAYS), timedelta(days=SHOWN_AFTER_DAYS)
    return any(
        that - before <= on <= that + after
        for that in (_day_of(year, month, day) for year in (on.year - 1, on.year, on.year + 1))
    )


def _day_of(year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        return date(year, 2, 28)


def _by_heat(row: LessonRow, degree_days: Mapping[str, float]) -> bool:
    if row.degree_days is None:
        return False
    own = degree_days.get(row.place or "")
    sums = list(degree_days.values()) if own is None else [own]
    return any(row.degree_days <= each <= row.degree_days + SHOWN_DEGREE_DAYS for each in sums)
