"""What is to be done, on paper and in calendars: the sheet of jobs, and the feed that a calendar program reads."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urlencode

from flask import Blueprint, Response, current_app, request

from labels.sheet import JOBS_MAX, SheetJob, SheetNotes, sheet_pdf
from server import ids
from server.api.doors import json_answer, manner, manner_of, owners_only, paired, sends, takes_query, this_device
from server.api.limits import SlidingWindow
from server.api.shapes import SheetQuery
from server.errors import NotFound
from server.records.calendar_secret import (
    drop_calendar_secret,
    has_calendar_secret,
    new_calendar_secret,
    opens_calendar,
)
from server.records.settings import read_settings
from server.reports.calendar import calendar
from server.reports.jobs import Job, jobs
from server.reports.load import today
from server.reports.overview import overview
from server.reports.text import JOB_CAUTIONS
from server.wording.said import joined, say, say_count

CALENDAR_TYPE = "text/calendar; charset=utf-8"
# Jobs whose end is a card's edit or a printed tag, by the beginning of their keys; the phone leaves out the same.
OWNERS_JOBS = ("give_away:", "retire:", "reprint_standing:", "reprint_tag:")
# Calendar programs ask every few hours; whoever guesses at secrets asks more often.
ASKED_A_MINUTE, ALL_ASKED_A_MINUTE = 10, 60

NOTHING = say("Nothing needs you.")

plans = Blueprint("plans", __name__)
feed = Blueprint("feed", __name__)


def feed_window() -> SlidingWindow:
    """How often the feed may be asked for."""
    return SlidingWindow(ASKED_A_MINUTE, ALL_ASKED_A_MINUTE, 60)


@plans.get("/jobs.pdf")
@paired
@takes_query(SheetQuery)
@sends("application/pdf")
def get_sheet(query: dict[str, Any]) -> Response:
    """The open jobs as a sheet to print."""
    sheet = job_sheet(query["on"], query["paper"], this_device().role == "owner")
    return Response(sheet, content_type="application/pdf")


def job_sheet(on: date | None, paper: str, owner: bool = True) -> bytes:
    """The open jobs as a PDF; a helper's is without those that only an owner can do."""
    report = jobs(on)
    items: list[Job] = [job for job in report.items if owner or not job.key.startswith(OWNERS_JOBS)]
    told = manner()
    lines = [
        SheetJob(told.say(job.title), job.due_on or "", told.say(joined([*job.why, job.advice])), job.tags)
        for job in items
    ]
    cautions = dict.fromkeys(told.say(JOB_CAUTIONS[job.caution]) for job in items if job.caution in JOB_CAUTIONS)
    title = f"{read_settings().collection or 'Leafwalk'}, {report.on.isoformat()}"
    left_out = say_count(
        "{count} further job, due later, is left out: print again when these are done.",
        "{count} further jobs, due later, are left out: print again when these are done.",
        len(lines) - JOBS_MAX,
    )
    notes = SheetNotes(told.say(NOTHING), told.say(left_out))
    return sheet_pdf(title, lines, list(cautions), paper, notes)


@plans.get("/calendar")
@owners_only
def get_calendar() -> Response:
    """Whether the calendar has an address."""
    return json_answer({"open": has_calendar_secret()})


@plans.post("/calendar")
@owners_only
def post_calendar() -> Response:
    """A new address for calendar programs; a former one stops. It is told only now, as just its hash is kept.

    It names the language and units of the phone that asks, as calendar programs have others or none.
    """
    base = read_settings().public_url or request.host_url
    told = manner()
    asks = "" if told.is_plain else "?" + urlencode({"language": told.language, "units": " ".join(told.units)})
    return json_answer({"url": f"{base.rstrip('/')}/calendar/{new_calendar_secret()}.ics{asks}"}, 201)


@plans.delete("/calendar")
@owners_only
@sends(None, 204)
def delete_calendar() -> Response:
    """Close the calendar's address."""
    drop_calendar_secret()
    return Response(status=204)


@feed.get("/calendar/<secret>.ics")
def get_feed(secret: str) -> Response:
    """The open jobs for a calendar program, which can send no token: its address is its key."""
    window: SlidingWindow = current_app.extensions["leafwalk_feed"]
    window.enter(request.remote_addr or "")
    if not opens_calendar(secret):
        raise NotFound(say("No calendar is here."))
    told = manner_of(request.args.get("language", ""), request.args.get("units", ""))
    # What phones get as well, kept between changes: calendar programs ask often.
    open_jobs = [Job(**each) for each in overview(manner=told).document["tasks"]]
    data = calendar(open_jobs, read_settings().collection, ids.now(), today())
    return Response(data, content_type=CALENDAR_TYPE)
