"""What was computed: the overview that phones keep, the reports by name, and one tree's page."""

from __future__ import annotations

import uuid
from dataclasses import asdict
from datetime import date
from typing import Any

from flask import Blueprint, Response, request

from server.api.doors import MANNER_HEADERS, json_answer, manner, paired, sends, takes_query
from server.api.shapes import GroupQuery, HardeningQuery, ReportQuery, SeasonQuery, StepQuery, YearEndQuery
from server.api.year_end import year_end_pdf
from server.errors import NotFound
from server.reports.catalogue import REPORTS
from server.reports.groups import Asked, group_report
from server.reports.hardening import hardening
from server.reports.movestep import too_big_step
from server.reports.overview import overview, version
from server.reports.season import season
from server.reports.tree import tree_page
from server.wording.said import say

reports = Blueprint("reports", __name__)


@reports.get("/overview")
@paired
@takes_query(ReportQuery)
def get_overview(query: dict[str, Any]) -> Response:
    """What the phone shows offline, in one document; unchanged, it is not computed again."""
    on: date | None = query["on"]
    told = manner()
    etag, text = version(on, told), ""
    if not request.if_none_match.contains_weak(etag):
        found = overview(on, told)
        etag, text = found.version, found.text
    answer = Response(text, content_type="application/json")
    answer.set_etag(etag)
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.vary.update(MANNER_HEADERS)
    answer.make_conditional(request)
    return answer


@reports.get("/reports/<name>")
@paired
@takes_query(ReportQuery)
def get_report(name: str, query: dict[str, Any]) -> Response:
    """One report as of a day."""
    if name not in REPORTS:
        raise NotFound(say("There is no report of this name; there are: {known}.", known=", ".join(REPORTS)))
    return json_answer(REPORTS[name](query["on"]).document())


@reports.get("/reports/hardening")
@paired
@takes_query(HardeningQuery)
def get_hardening(query: dict[str, Any]) -> Response:
    """Day-by-day plans for bringing out a tree, several, a place's, or all."""
    trees = [part for each in query.pop("trees").split(",") if (part := each.strip())]
    return json_answer(hardening(**query, trees=trees).document())


@reports.get("/reports/season")
@paired
@takes_query(SeasonQuery)
def get_season(query: dict[str, Any]) -> Response:
    """The review of a growing year."""
    return json_answer(season(**query).document())


@reports.get("/season.pdf")
@paired
@takes_query(YearEndQuery)
@sends("application/pdf")
def get_year_end(query: dict[str, Any]) -> Response:
    """The review of a growing year as a report to print."""
    answer = Response(year_end_pdf(**query), content_type="application/pdf")
    answer.headers["Content-Disposition"] = 'attachment; filename="season.pdf"'
    return answer


@reports.get("/reports/groups")
@paired
@takes_query(GroupQuery)
def get_groups(query: dict[str, Any]) -> Response:
    """Two groups of trees held against each other, and which others could be."""
    asked = Asked(query["measure"], query["by"], query["a"], query["b"], query["species"])
    return json_answer(group_report(asked, query["on"]).document())


@reports.get("/trees/<identity>")
@paired
@takes_query(ReportQuery)
def get_tree(identity: str, query: dict[str, Any]) -> Response:
    """One tree's record, series and findings."""
    return json_answer(tree_page(_tree_id(identity), query["on"]))


@reports.get("/trees/<identity>/step")
@paired
@takes_query(StepQuery)
def get_step(identity: str, query: dict[str, Any]) -> Response:
    """Whether moving the tree to a place is too big a step in light."""
    return json_answer(asdict(too_big_step(_tree_id(identity), query["to"], query["on"])))


def _tree_id(identity: str) -> str:
    try:
        return str(uuid.UUID(identity))
    except ValueError as error:
        raise NotFound(say("No tree has this id.")) from error
