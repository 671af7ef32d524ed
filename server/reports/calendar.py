"""The open jobs as a calendar that other programs read: iCalendar, RFC 5545."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from icalendar import Calendar, Event

from server.reports.jobs import Job

PRODUCT = "-//Leafwalk//Jobs//EN"
UID_DOMAIN = "leafwalk.invalid"
REFRESH = timedelta(hours=6)


def calendar(jobs: Iterable[Job], collection: str, stamp: datetime, on: date) -> bytes:
    """One all-day event a job that has a day; an overdue one stands on today. The same job keeps its UID."""
    made = Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("x-wr-calname", collection or "Leafwalk")
    made.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for job in jobs:
        if job.due_on is not None:
            made.add_component(_event(job, stamp.astimezone(UTC), on))
    data: bytes = made.to_ical()
    return data


def _event(job: Job, stamp: datetime, on: date) -> Event:
    day = max(date.fromisoformat(job.due_on or on.isoformat()), on)
    event = Event()
    event.add("uid", f"{job.key}@{UID_DOMAIN}")
    event.add("dtstamp", stamp)
    event.add("dtstart", day)
    if day < date.max:  # without an end, the event lasts that day (RFC 5545, 3.6.1)
        event.add("dtend", day + timedelta(days=1))
    event.add("summary", ", ".join([job.title, *job.tags[:3]]) + (" …" if len(job.tags) > 3 else ""))
    event.add("description", "\n".join([*job.why, job.advice, " ".join(job.tags)]).strip())
    event.add("transp", "TRANSPARENT")
    return event
