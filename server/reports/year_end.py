"""A growing year's end: its review, what the years so far say of shelters, and what was decided about trees."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from server.records.plans import DecisionRow, decisions_kept
from server.reports.compare import CompareReport, compare_report
from server.reports.judge import judge
from server.reports.load import load
from server.reports.season import SeasonReport, season_report
from server.reports.season_settings import weighing
from server.reports.tree_seasons import TreeYears, tree_years
from server.reports.warmth import EPOCH

DECIDED_AFTER_DAYS = 90
"""Who decides within so many days of a growing year's end decides about that year; common practice, no source."""


@dataclass(frozen=True)
class YearEnd:
    """The review of a growing year, shelters compared over all years up to it, and the decisions that belong to it."""

    season: SeasonReport
    compare: CompareReport
    decisions: list[DecisionRow]


def year_end(on: date | None = None, year: int | None = None) -> YearEnd:
    """All that is told of a growing year (None: that of `on`) with what is known at the end of `on` (None: today).

    Raises Refused for a year out of reach, or still to come.
    """
    collection, figures = load(on, include_retired=True), weighing()
    years = tree_years(collection, judge(collection), figures.damaged_percent)
    review = season_report(years, figures, year)
    so_far = replace(years, seasons=years.seasons.where(years.seasons.year <= review.year))
    decided = [row for row in decisions_kept() if _belongs(row, years, review.year)]
    return YearEnd(review, compare_report(so_far), decided)


def _belongs(row: DecisionRow, years: TreeYears, year: int) -> bool:
    """Whether a decision is about a growing year; one without a day is told in the present year's review."""
    today = years.collection.on
    decided = today if row.decided_on is None else date.fromisoformat(row.decided_on)
    return decided <= today and years.year_of((decided - EPOCH).days - DECIDED_AFTER_DAYS) == year
