"""The reports by the names that the commands and the web interface ask for."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from server.errors import Refused
from server.reports.alerts import alerts
from server.reports.alike import alike
from server.reports.compare import compare_shelters
from server.reports.crop import crop
from server.reports.hardening import hardening
from server.reports.heat import heat
from server.reports.jobs import jobs
from server.reports.pace import pace_report
from server.reports.season import season
from server.reports.shapes import Report
from server.reports.trends import trends
from server.wording.said import say

REPORTS: dict[str, Callable[[date | None], Report]] = {
    "alerts": alerts,
    "trends": trends,
    "heat": heat,
    "crop": crop,
    "pace": pace_report,
    "hardening": hardening,
    "compare": compare_shelters,
    "season": season,
    "jobs": jobs,
    "alike": alike,
}


def read_day(text: str | None) -> date | None:
    """The day on which a report is asked for; None means today. Raises Refused for what is no date."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise Refused.of("on", say("“{text}” is no date; write it like 2026-05-03.", text=text[:40])) from error
