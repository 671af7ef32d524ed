"""The import: everything is read and checked first, then goes in through sync's own door, all or nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import chain, islice
from pathlib import Path
from typing import Any

from server.errors import TooLarge
from server.records.database import read_counter, write
from server.records.pedigree import tags_of_loops
from server.tables.cards import Cards, Stored, load_cards
from server.tables.columns import TABLES, Table
from server.tables.csv_files import CsvFile, Found, find_files, open_file
from server.tables.facts import load_facts
from server.tables.intake import Intake
from server.tables.matching import CHANGED, NEW, UNCHANGED, WITHDRAWN, Step, match
from server.tables.planning import plan_cards, plan_late, plan_many, same_by
from server.tables.problems import Problems
from server.tables.rows import Row, RowReader, fact_key
from server.wording.said import joined, say

CHUNK_ROWS = 2000
# What a file's rows are called where they came from no file of that name.
FILE_WORDS = {"varieties": say("varieties"), "trees": say("trees")}
REPEATED_ROWS_MAX = 100_000
_WORDS = {
    NEW: say("{count} new"),
    CHANGED: say("{count} changed"),
    UNCHANGED: say("{count} unchanged"),
    WITHDRAWN: say("{count} withdrawn before and left so"),
}
_MADE = {
    "variety": say("New variety, known by name only: {names}"),
    "place": say("New place, known by name only: {names}"),
    "batch": say("New batch, known by name only: {names}"),
}


@dataclass(slots=True)
class Summary:
    """What an import did: rows by file and outcome, cards made or brought back for a name, files left aside.

    `span` names its changes, so that they can be taken back (`taking_back.py`).
    """

    counts: dict[str, Counter[str]] = field(default_factory=dict)
    made: dict[str, list[str]] = field(default_factory=dict)
    brought_back: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    span: str | None = None

    def lines(self) -> list[str]:
        """The summary in words, a line each."""
        lines: list[str] = []
        for file, count in self.counts.items():
            told = [outcome for outcome in _WORDS if count[outcome] or outcome != WITHDRAWN]
            counts = joined([_WORDS[outcome].filled(count=count[outcome]) for outcome in told], ", ")
            lines.append(say("{file}: {counts}", file=FILE_WORDS.get(file, file), counts=counts))
        lines += [_MADE[kind].filled(names=", ".join(names)) for kind, names in self.made.items() if names]
        if self.brought_back:
            lines.append(say("In use again: {names}", names=", ".join(self.brought_back)))
        return lines + self.notes


@dataclass(slots=True)
class Plan:
    """What checking found: the cards' steps, and of each kind of fact the files and the keys that occur twice.

    `late`: what trees' rows say of other trees and of batches, taken in once all of them are there.
    """

    cards: Cards
    given: frozenset[str]
    facts: dict[str, list[CsvFile]] = field(default_factory=dict)
    steps: list[tuple[Table, list[Step]]] = field(default_factory=list)
    late: list[tuple[Table, Step]] = field(default_factory=list)
    bare: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    repeated: dict[str, set[int]] = field(default_factory=dict)


def import_files(paths: Sequence[Path]) -> Summary:
    """Import CSV files and folders of them; a second import of the same rows adds nothing.

    Raises Refused with every problem found (file, line, column, what to do), TooLarge, or Unavailable; nothing was
    changed then.
    """
    found = find_files(paths)
    seen = read_counter()
    plan = _check(found)
    with write():
        # A phone may have synced while the files were read; what was matched then is matched anew.
        if read_counter() != seen:
            plan = _check(found)
        summary = take_in(plan)
    summary.notes += found.notes
    return summary


def _check(found: Found) -> Plan:
    problems = Problems()
    opened = [open_file(path, table, problems) for path, table in found.files]
    plan = Plan(load_cards(), frozenset(table.kind for _, table in found.files))
    reader = RowReader(plan.cards, plan.given, problems)
    plan.bare = reader.bare
    for table in TABLES.values():
        files = [file for file in opened if file is not None and file.table is table]
        if not files:
            continue
        rows = chain.from_iterable(reader.read(file) for file in files)
        if table.is_card:
            plan.steps.append((table, plan_cards(table, rows, plan.cards, problems)))
        elif table.is_plan:
            plan.steps.append((table, plan_many(table, rows, plan.cards)))
        else:
            plan.facts[table.file] = files
            plan.repeated[table.file] = _repeated(table, rows, plan.cards)
    plan.late = list(plan_late(reader.read_late(), plan.cards, problems))
    problems.refuse_if_any()
    return plan


def _repeated(table: Table, rows: Iterator[Row], cards: Cards) -> set[int]:
    """Hashes of the keys that more than one row has. A chance equality of hashes does no harm: see `_groups`."""
    seen: set[int] = set()
    repeated: set[int] = set()
    for row in rows:
        key = hash(fact_key(table, row.values, cards))
        (repeated if key in seen else seen).add(key)
        if len(repeated) > REPEATED_ROWS_MAX:
            raise TooLarge(
                f"In {table.file} more than {REPEATED_ROWS_MAX:,} rows share tree (or place) and time with another"
                " row; the same rows may stand there twice."
            )
    return repeated


def take_in(plan: Plan) -> Summary:
    """Take in what was planned, inside `write()`, which is rolled back where sync refuses a part of it.

    Raises Refused with every problem.
    """
    problems = Problems()
    intake = Intake(plan.cards, problems)
    summary = Summary()
    for kind, made in plan.bare.items():
        intake.take_bare(kind, made)
        summary.made[kind] = [name for _, name in made]
    for table, steps in plan.steps:
        intake.take(table, steps)
        summary.counts[table.file] = Counter(step.outcome for step in steps)
    unchanged = {step.record: table.file for table, steps in plan.steps for step in steps if step.outcome == UNCHANGED}
    for table, step in plan.late:
        intake.take(table, [step])
        if step.record in unchanged:
            summary.counts[table.file].subtract([UNCHANGED])
            summary.counts[table.file].update([CHANGED])
    intake.finish()
    _refuse_loops(plan, problems)
    problems.refuse_if_any()  # facts of a refused card would all be refused too, and say nothing
    reader = RowReader(plan.cards, plan.given, problems)
    for name, files in plan.facts.items():
        summary.counts[name] = Counter()
        rows = chain.from_iterable(reader.read(file) for file in files)
        for groups in _groups(TABLES[name], rows, plan.repeated[name], plan.cards):
            steps = plan_facts(TABLES[name], groups, plan.cards)
            intake.take(TABLES[name], steps)
            summary.counts[name].update(step.outcome for step in steps)
    intake.finish()
    problems.refuse_if_any()
    summary.brought_back, summary.span = intake.brought_back, intake.span
    return summary


def _refuse_loops(plan: Plan, problems: Problems) -> None:
    """Note each row by which a tree would descend from itself; what phones made so is for the check to tell."""
    said = [(str(step.record), step.row) for _, step in plan.late]
    for table, steps in plan.steps:
        said += [(step.set["parent"], step.row) for step in steps if table.kind == "batch" and "parent" in step.set]
    rings = tags_of_loops() if said else {}
    for tree, row in said:
        if tree in rings:
            ring = " from ".join([*rings[tree], rings[tree][0]])
            told = say("A tree would descend from itself: {ring}; correct a parent.", ring=ring)
            problems.add(row.file, row.line, "parent", told)


_Groups = dict[tuple[Any, ...], list[Row]]


def _groups(table: Table, rows: Iterator[Row], repeated: set[int], cards: Cards) -> Iterator[_Groups]:
    """Rows by key, in chunks; keys that occur twice come last, with all their rows together."""
    together: _Groups = {}

    def single() -> Iterator[tuple[tuple[Any, ...], Row]]:
        for row in rows:
            key = fact_key(table, row.values, cards)
            if hash(key) in repeated:
                together.setdefault(key, []).append(row)
            else:
                yield key, row

    alone = single()
    while part := list(islice(alone, CHUNK_ROWS)):
        yield {key: [row] for key, row in part}
    held = iter(together.items())
    while several := dict(islice(held, CHUNK_ROWS)):
        yield several


def plan_facts(table: Table, groups: _Groups, cards: Cards) -> list[Step]:
    """What is to be done about rows of facts, by `fact_key`: each is paired with the stored record that it is about."""
    same = same_by(table, cards)
    stored: dict[tuple[Any, ...], list[Stored]] = {}
    for record in load_facts(table, chain.from_iterable(groups.values()), cards):
        stored.setdefault(fact_key(table, record.fields, cards), []).append(record)
    steps: Iterable[Step] = chain.from_iterable(
        match(rows, stored.get(key, ()), table.key, same) for key, rows in groups.items()
    )
    return list(steps)
