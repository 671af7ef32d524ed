"""What to do next: from the findings, from what the records show at a year's start, and the grower's own entries."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from server.records.plans import JobRow, jobs_kept
from server.records.queries import TreeRow
from server.reports.alerts import alert_report
from server.reports.computed import compute
from server.reports.decided import decided_jobs
from server.reports.load import Collection, load
from server.reports.shapes import Report, as_json
from server.reports.yearsjobs import years_jobs
from server.wording.said import say

# The note that belongs to a task; sap, sun, lifting, blades, sprays, heaters. The screens hold the words.
CAUTIONS = {
    "thin_breba": "sap",
    "thin_main": "sap",
    "rejuvenate": "rejuvenate",
    "prune": "prune",
    "root_prune": "root_prune",
    "pinch": "pinch",
    "take_cuttings": "take_cuttings",
    "graft": "graft",
    "pot_up": "lifting",
    "pot_down": "lifting",
    "move": "lifting",
    "spray": "spray",
    "shelter": "shelter",
}
# A finding is acted on within so many days.
DUE_DAYS = {"act": 1, "watch": 7}
OWN_LEVEL = "watch"
PLACE_LETTERS_MAX = 80
"""A key has to fit into an answer."""


@dataclass(frozen=True)
class Job:
    """One thing to do: `key` stays the same from day to day, and is what an answer names.

    `task` is a task of the work done on trees, or move, look, reprint_tag, harvest, measure, other; `tags` the trees it
    is about; `record` the grower's own entry, None where it was computed.
    """

    key: str
    task: str
    title: str
    level: str
    due_on: str | None
    why: list[str]
    advice: str
    tags: list[str]
    trees: list[str]
    place: str | None = None
    amount: float | None = None
    caution: str | None = None
    record: str | None = None


def jobs(on: date | None = None) -> Report:
    """All that is to be done as of the end of `on` (None: today), the most pressing first."""
    done = compute(load(on))
    on = done.collection.on
    found = [job for item in alert_report(done).items for job in jobs_of(as_json(item), on)]
    return Report(on, all_jobs(found, on, done.collection))


def all_jobs(found: Iterable[Job], on: date, collection: Collection | None = None) -> list[Job]:
    """The jobs of findings (`jobs_of`), those of the time of year, the grower's own; answered ones left out.

    With the collection, the grower's own job at a place names the trees that stand there. A job that nobody put off and
    that no other finding asks for too comes back as the very object that was given.
    """
    kept = jobs_kept()
    by_year = [*years_jobs(on), *decided_jobs(on)]
    asked = [*_together(found), *(Job(**vars(each)) for each in by_year)]
    answers = {answer.key: answer for answer in kept if answer.key}
    open_jobs = [job for job in asked if _is_open(answers.get(job.key), on)]
    put_off = [_put_off(job, answers.get(job.key), on) for job in open_jobs]
    rows = [row for row in kept if not row.key and _is_open(row, on)]
    at_place = _standing_at({row.place_id for row in rows if row.place_id and not row.tree}, collection)
    own = [_own(row, at_place.get(row.place_id or "", [])) for row in rows]
    return sorted([*put_off, *own], key=_order)


def _order(job: Job) -> tuple[bool, str, str, str]:
    return job.due_on is None, job.due_on or "", job.level, job.key


def _is_open(answer: JobRow | None, on: date) -> bool:
    if answer is None:
        return True
    done = answer.done_on is not None and answer.done_on <= on.isoformat()
    waits = answer.put_off_to is not None and answer.put_off_to > on.isoformat()
    return not (done or waits or answer.dropped)


def _put_off(job: Job, answer: JobRow | None, on: date) -> Job:
    """What was put off until a day that has come is due on that day."""
    return (
        job
        if answer is None or answer.put_off_to is None
        else replace(job, due_on=min(answer.put_off_to, on.isoformat()))
    )


def _standing_at(places: set[str], collection: Collection | None) -> dict[str, list[TreeRow]]:
    """The trees that stand at some places now, by the place's id."""
    found: dict[str, list[TreeRow]] = {place: [] for place in places}
    if collection is None or not places:
        return found
    for tree in collection.trees:
        place = collection.place_now(tree)
        if place is not None and place.id in found:
            found[place.id].append(tree)
    return found


def _own(row: JobRow, at_place: list[TreeRow]) -> Job:
    return Job(
        key=row.id,
        task=row.task,
        title=row.job,
        level=OWN_LEVEL,
        due_on=row.put_off_to or row.due_on,
        why=[],
        advice=row.note or "",
        tags=[row.tag] if row.tag else [] if row.tree else [tree.tag for tree in at_place],
        trees=[row.tree] if row.tree else [tree.id for tree in at_place],
        place=row.place,
        amount=row.amount,
        caution=CAUTIONS.get(row.task),
        record=row.id,
    )


def _together(found: Iterable[Job]) -> list[Job]:
    """Those of one key, as of a night in a place, as one."""
    made: dict[str, Job] = {}
    for job in found:
        known = made.get(job.key)
        if known is None:
            made[job.key] = job
        else:
            why = list(dict.fromkeys([*known.why, *job.why]))
            made[job.key] = replace(known, why=why, tags=[*known.tags, *job.tags], trees=[*known.trees, *job.trees])
    return list(made.values())


def jobs_of(found: dict[str, Any], on: date) -> list[Job]:
    """The jobs that one finding, as plain values, asks for on a day."""
    kind, tree, level = found["kind"], found["tree"], found["level"]
    due = (on + timedelta(days=DUE_DAYS[level])).isoformat()

    def job(task: str, title: str, key: str, **more: Any) -> Job:
        told = {
            "level": level,
            "due_on": due,
            "why": found["why"],
            "advice": found["advice"],
            "caution": CAUTIONS.get(task),
        }
        return Job(
            **{"key": key, "task": task, "title": title, "tags": [found["tag"]], "trees": [tree], **told, **more}
        )

    since = found["since"] or ""
    if kind == "overloaded":
        takes = (
            ("thin_breba", say("Take brebas off"), "remove_breba"),
            ("thin_main", say("Thin the main crop"), "remove_main"),
        )
        return [
            job(task, title, f"{task}:{tree}:{since}", amount=found[field])
            for task, title, field in takes
            if found[field]
        ]
    if kind == "cold":
        night, place = found["night"], found["place"]
        key = f"shelter:{place[:PLACE_LETTERS_MAX]}:{night}"
        caution = found.get("caution") or "shelter"
        title = say("Shelter for the night: {place}", place=place)
        return [job("shelter", title, key, due_on=night, place=place, caution=caution)]
    if kind == "unvisited":
        return [job("look", say("Look at a tree not seen for long"), f"look:{tree}:{since}")]
    if kind == "too_much_light":
        return [job("move", say("Too big a step in light"), f"move:{tree}:{since}")]
    if kind == "leaf_drop" and level == "act":
        return [job("look", say("See to a tree that loses leaves"), f"drop:{tree}:{since}")]
    return []
