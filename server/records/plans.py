"""Questions about what is planned: jobs, lessons, and what the last year shows of each tree."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime

from server.records.database import execute
from server.records.queries import time_zone


@dataclass(frozen=True, slots=True)
class JobRow:
    """A job as it was entered, or the answer to a computed one, which `key` names; `place` is the place's name."""

    id: str
    job: str
    key: str | None
    task: str
    tree: str | None
    tag: str | None
    place: str | None
    place_id: str | None
    amount: float | None
    due_on: str | None
    put_off_to: str | None
    done_on: str | None
    dropped: bool
    note: str | None


@dataclass(frozen=True, slots=True)
class LessonRow:
    """A note for another year, and what it is tied to."""

    id: str
    lesson: str
    variety: str | None
    place: str | None
    tree: str | None
    on_day: str | None
    degree_days: float | None
    task: str | None
    heeded_on: str | None


@dataclass(frozen=True, slots=True)
class DecisionRow:
    """What was decided about a tree, and on which day where that is on record."""

    tag: str
    variety: str | None
    decision: str
    decided_on: str | None


@dataclass(frozen=True, slots=True)
class DecidedTree:
    """A tree about which something was decided, with its standing and the day on which its present tag was printed."""

    id: str
    tag: str
    variety_id: str | None
    variety: str | None
    decision: str
    decided_on: str
    standing: str | None
    printed_on: str | None


@dataclass(frozen=True, slots=True)
class TreeYear:
    """One standing tree after a season: its pot and since when, how far its shoots grew, and when that was seen."""

    id: str
    tag: str
    species: str | None
    pot_litres: float | None
    potted_on: str | None
    started_on: str | None
    shoot_cm: float | None
    measured_on: str | None


def jobs_kept() -> list[JobRow]:
    """All jobs that were entered or answered, the oldest first."""
    rows = execute(
        "SELECT j.id, j.job, j.key, j.task, j.tree, t.tag, p.place, p.id, j.amount, j.due_on, j.put_off_to, j.done_on,"
        " j.dropped, j.note FROM job j LEFT JOIN tree t ON t.id = j.tree LEFT JOIN place p ON p.id = j.place"
        " WHERE NOT j.voided ORDER BY j.seq"
    ).fetchall()
    return [JobRow(*row) for row in rows]


def lessons_kept() -> list[LessonRow]:
    """All lessons, the oldest first."""
    rows = execute(
        "SELECT id, lesson, variety, place, tree, on_day, degree_days, task, heeded_on FROM lesson"
        " WHERE NOT voided ORDER BY seq"
    ).fetchall()
    return [LessonRow(*row) for row in rows]


def decisions_kept() -> list[DecisionRow]:
    """What was decided about trees, retired ones too, by variety and tag."""
    rows = execute(
        "SELECT t.tag, v.variety, t.decision, t.decided_on FROM tree t LEFT JOIN variety v ON v.id = t.variety"
        " WHERE NOT t.voided AND t.decision IS NOT NULL ORDER BY v.variety, t.tag"
    ).fetchall()
    return [DecisionRow(*row) for row in rows]


def decided_trees() -> list[DecidedTree]:
    """Trees about which something was decided on a day that is on record, by tag."""
    rows = execute(
        "SELECT t.id, t.tag, v.id, v.variety, t.decision, t.decided_on, t.standing, g.printed_ms FROM tree t"
        " LEFT JOIN variety v ON v.id = t.variety LEFT JOIN tag g ON g.code = t.tag"
        " WHERE NOT t.voided AND t.decision IS NOT NULL AND t.decided_on IS NOT NULL ORDER BY t.tag"
    ).fetchall()
    zone = time_zone()
    found = []
    for row in rows:
        printed = None if row[7] is None else datetime.fromtimestamp(row[7] / 1000, zone).date().isoformat()
        found.append(DecidedTree(row[0], row[1], row[2], row[3], row[4], row[5], row[6], printed))
    return found


def trees_of_season(since: date, until: date, on: date) -> list[TreeYear]:
    """Every standing tree with its pot as of `on`, and its typical shoot growth between `since` and `until`."""
    zone = time_zone()
    since_s, until_s, end_s = (
        int(datetime(*day.timetuple()[:3], tzinfo=zone).timestamp()) for day in (since, until, on)
    )
    litres_now: dict[str, float] = {}
    potted: dict[str, str] = {}
    for tree, amount, at_s in execute(
        "SELECT tree, amount, at_s FROM work WHERE NOT voided AND task IN ('pot_up', 'pot_down', 'root_prune')"
        " AND at_s < ? ORDER BY at_s, id",
        (end_s,),
    ).fetchall():
        potted[tree] = datetime.fromtimestamp(at_s, zone).date().isoformat()
        if amount is not None:
            litres_now[tree] = amount
    grown = {
        tree: (shoot_cm, datetime.fromtimestamp(at_s, zone).date().isoformat())
        for tree, shoot_cm, at_s in execute(
            "SELECT tree, max(shoot_cm), max(at_s) FROM observation WHERE NOT voided AND part IS NULL"
            " AND shoot_cm IS NOT NULL AND at_s >= ? AND at_s < ? GROUP BY tree",
            (since_s, until_s),
        ).fetchall()
    }
    rows = execute(
        "SELECT t.id, t.tag, v.species, t.pot_litres, t.started_on FROM tree t LEFT JOIN variety v ON v.id = t.variety"
        " WHERE NOT t.voided AND (t.standing IS NULL OR t.standing <> 'retired') ORDER BY t.tag"
    ).fetchall()
    return [
        TreeYear(
            identity,
            tag,
            species,
            litres_now.get(identity, litres),
            potted.get(identity, started),
            started,
            *grown.get(identity, (None, None)),
        )
        for identity, tag, species, litres, started in rows
    ]


def tags_printed(before: date) -> list[tuple[str, str, date]]:
    """(tree, tag, day) of the standing trees whose present tag was printed before a day, those printed first first."""
    limit_ms = int(datetime(before.year, before.month, before.day, tzinfo=UTC).timestamp() * 1000)
    rows = execute(
        "SELECT t.id, t.tag, g.printed_ms FROM tree t JOIN tag g ON g.code = t.tag WHERE NOT t.voided"
        " AND (t.standing IS NULL OR t.standing <> 'retired') AND g.printed_ms < ? ORDER BY g.printed_ms, t.tag",
        (limit_ms,),
    ).fetchall()
    return [(tree, tag, datetime.fromtimestamp(ms / 1000, UTC).date()) for tree, tag, ms in rows]
