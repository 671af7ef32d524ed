"""What was computed: the overview that phones keep, the reports by name, and one tree's page."""

from __future__ import annotations

import uuid
from datetime import date
from typing import Any

from flask import Blueprint, Response, request

from server.api.doors import json_answer, paired, takes_query
from server.api.shapes import ReportQuery
from server.errors import NotFound
from server.reports.catalogue import REPORTS
from server.reports.overview import overview, version
from server.reports.tree import tree_page

reports = Blueprint("reports", __name__)


@reports.get("/overview")
@paired
@takes_query(ReportQuery)
def get_overview(query: dict[str, Any]) -> Response:
    """What the phone shows offline, in one document; unchanged, it is not computed again."""
    on: date | None = query["on"]
    etag = version(on)
    answer = Response(content_type="application/json")
    if not request.if_none_match.contains_weak(etag):
        answer = json_answer(overview(on).document)
    answer.set_etag(etag)
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.make_conditional(request)
    return answer


@reports.get("/reports/<name>")
@paired
@takes_query(ReportQuery)
def get_report(name: str, query: dict[str, Any]) -> Response:
    """One report as of a day."""
    if name not in REPORTS:
        raise NotFound(f"There is no report of this name; there are: {', '.join(REPORTS)}.")
    return json_answer(REPORTS[name](query["on"]).document())


@reports.get("/trees/<identity>")
@paired
@takes_query(ReportQuery)
def get_tree(identity: str, query: dict[str, Any]) -> Response:
    """One tree's record, series and findings."""
    try:
        tree = str(uuid.UUID(identity))
    except ValueError as error:
        raise NotFound("No tree has this id.") from error
    return json_answer(tree_page(tree, query["on"]))
