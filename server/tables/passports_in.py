"""Passports of another collection, or of this one, as varieties and trees: all or nothing; once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from server import ids
from server.errors import BadTagCode, TooLarge
from server.records.database import write
from server.records.queries import free_tag_codes
from server.sync.fields import KINDS
from server.tables.cards import Cards, load_cards
from server.tables.cells import read_text
from server.tables.columns import TABLES, Table
from server.tables.csv_files import open_file, read_rows
from server.tables.importing import Plan, Summary, take_in
from server.tables.passport_form import (
    CODES,
    DESCRIPTORS,
    FIELD_COLLECTION,
    OFFSPRING,
    join_note,
    read_ancest,
    read_date,
    species_of,
    taxon_of,
    tidy,
)
from server.tables.passports import passports
from server.tables.planning import CARD_ROWS_MAX, plan_cards, plan_late
from server.tables.problems import Problems
from server.tables.rows import Row
from server.wording.said import say, words_of

VARIETIES, TREES = TABLES["varieties.csv"], TABLES["trees.csv"]
_NOTHING = dict.fromkeys(DESCRIPTORS, "")
# Which descriptor to name where a field of a card is at fault.
_SOURCES = {
    "variety": "accename", "species": "species", "origin_country": "origcty", "tag": "accenumb",
    "source": "donorname", "donor_number": "donornumb", "started_on": "acqdate", "note": "remarks",
}  # fmt: skip


class PassportTable(Table):
    """A file of passports: only the accession's number is asked of each row."""

    __slots__ = ()

    @property
    def required(self) -> tuple[str, ...]:
        """The columns that no row may leave empty."""
        return ("accenumb",)


PASSPORTS = PassportTable("passports.csv", "tree", tuple(name.lower() for name in DESCRIPTORS), ("accenumb",))


@dataclass(frozen=True, slots=True)
class _Passport:
    """One row of the file: its line, its tag (empty for an accession of another collection), its filled cells."""

    line: int
    tag: str
    cells: dict[str, str]


@dataclass(slots=True)
class _Reading:
    """Passports as they become rows of varieties and trees; `known` are the present trees' own passports, by id."""

    file: str
    cards: Cards
    problems: Problems
    known: dict[str, tuple[dict[str, str], str]]
    tags: set[str]
    varieties: list[Row] = field(default_factory=list)
    trees: list[tuple[Row, str]] = field(default_factory=list)
    parents: list[tuple[Row, str]] = field(default_factory=list)

    def wrong(self, line: int, column: str, message: str) -> None:
        """Note a problem."""
        self.problems.add(self.file, line, column, message)


def import_passports(path: Path, name: str = "") -> Summary:
    """Take a file of passports in; an ACCENUMB that is no tag of ours becomes a donor's number on a fresh tag.

    What no card has a field for is kept in the tree's note. Messages call the file by `name`, or by its path. Raises
    Refused with every problem found; nothing was changed then.
    """
    problems = Problems()
    file = open_file(path, PASSPORTS, problems, name)
    problems.refuse_if_any()
    assert file is not None  # noqa: S101 else there was a problem
    rows = [
        (line, {name.upper(): read_text(cell) for name, cell in filled}) for line, filled in read_rows(file, problems)
    ]
    if len(rows) > CARD_ROWS_MAX:
        raise TooLarge(say("More than {most:,} passports; split the file into several.", most=CARD_ROWS_MAX))
    found = list(_passports(rows, file.name, problems))
    problems.refuse_if_any()
    with write():
        present = passports(retired_too=True)
        known = {identity: (_NOTHING | tidy(row), ancest) for identity, row, ancest in present}
        cards = load_cards()
        reading = _Reading(file.name, cards, problems, known, {each.tag for each in found if each.tag})
        donors = {(row["DONORNUMB"], row["DONORNAME"]): row["ACCENUMB"] for row, _ in known.values()}
        for each in found:
            _read(reading, each, each.tag or donors.get((each.cells["DONORNUMB"], each.cells["DONORNAME"]), ""))
        problems.refuse_if_any()
        summary = take_in(_plan(reading))
    summary.counts = {name.removesuffix(".csv"): count for name, count in summary.counts.items()}
    return summary


def _passports(rows: Iterable[tuple[int, dict[str, str]]], file: str, problems: Problems) -> Iterator[_Passport]:
    """The rows that have a number of their own, in one spelling."""
    lines: dict[str, int] = {}
    for line, cells in rows:
        row = tidy(cells)
        number = row.pop("ACCENUMB", "")
        try:
            tag = ids.read_tag_code(number)
        except BadTagCode:
            tag = ""
        if not number:
            problems.add(file, line, "accenumb", say("This cell is empty; every row needs it."))
        elif (tag or number) in lines:
            message = say("{number} stands in line {line} too; an accession has one row.")
            problems.add(file, line, "accenumb", message.filled(number=number[:40], line=lines[tag or number]))
        else:
            lines[tag or number] = line
            yield _Passport(line, tag, row if tag else _from_elsewhere(row, number))


def _from_elsewhere(row: dict[str, str], number: str) -> dict[str, str]:
    """A passport of another collection as one of ours: who keeps it there is the donor here.

    Its own donor is told in the remarks; how it is stored there is no matter of ours.
    """
    giver = row.pop("INSTCODE", "") or row.pop("DONORNAME", "") or row.pop("DONORCODE", "")
    before = [row.pop(name, "") for name in ("DONORCODE", "DONORNAME", "DONORNUMB")]
    row.pop("STORAGE", "")
    remarks = [row.get("REMARKS", ""), f"Its donor there: {' '.join(filter(None, before))}" if any(before) else ""]
    return row | {"DONORNAME": giver, "DONORNUMB": number, "REMARKS": "\n".join(filter(None, remarks))}


def _read(reading: _Reading, passport: _Passport, tag: str) -> None:
    """What a passport says beyond the present one of its tree becomes rows; `tag` is empty for a new tree's."""
    line = passport.line
    identity = reading.cards.find("tree", tag) if tag else None
    now, derived = reading.known.get(identity or "", (_NOTHING, ""))
    row = now | {name: cell for name, cell in passport.cells.items() if cell}
    tag = tag or _fresh(reading)
    values: dict[str, Any] = {"tag": tag}
    if row != now:
        _judge_codes(reading, line, row)
        new, old = (_tree_values(reading, line, each, derived) for each in (row, now))
        values |= {name: value for name, value in new.items() if value and value != old[name]}
    values = _checked(reading, line, "tree", values)
    variety = row["ACCENAME"]
    reading.trees.append((Row(reading.file, line, values), variety if variety != now["ACCENAME"] else ""))
    if variety and row != now:
        card = {"variety": variety, "species": species_of(row), "origin_country": row["ORIGCTY"]}
        reading.varieties.append(Row(reading.file, line, _checked(reading, line, "variety", card)))
    ancest = read_ancest(row["ANCEST"])
    if ancest and row["ANCEST"] != now["ANCEST"] and _is_known(reading, ancest[1]):
        reading.parents.append((Row(reading.file, line, {"tag": tag}), ancest[1]))


def _fresh(reading: _Reading) -> str:
    """A tag that neither the collection nor the file has."""
    while (code := free_tag_codes(1)[0]) in reading.tags:
        pass
    reading.tags.add(code)
    return code


def _is_known(reading: _Reading, tag: str) -> bool:
    return tag in reading.tags or reading.cards.find("tree", tag) is not None


def _judge_codes(reading: _Reading, line: int, row: dict[str, str]) -> None:
    for name, known in CODES.items():
        if row[name] and any(code not in known for code in row[name].split(";")):
            message = say("“{code}” is no code of {name}; there are: {known}.")
            reading.wrong(line, name.lower(), message.filled(code=row[name][:20], name=name, known=", ".join(known)))


def _tree_values(reading: _Reading, line: int, row: dict[str, str], derived: str) -> dict[str, str]:
    """The tree's fields that a passport fills; `derived` is the ANCEST that parent and batch tell already."""
    started_on = ""
    try:
        started_on = (read_date(row["ACQDATE"]) or "") if row["ACQDATE"] else ""
    except ValueError as error:
        words = words_of(error)
        problem = words if words.startswith("is ") else say("is no day of the calendar")
        reading.wrong(line, "acqdate", say("“{text}” {problem}.", text=row["ACQDATE"][:20], problem=problem))
    ancest = read_ancest(row["ANCEST"])
    told = row["ANCEST"] == derived or (ancest and ancest[0] == OFFSPRING and _is_known(reading, ancest[1]))
    noted = {
        **row,
        "ACQDATE": "" if started_on else row["ACQDATE"],
        "STORAGE": "" if row["STORAGE"] == FIELD_COLLECTION else row["STORAGE"],
        "ANCEST": "" if told else row["ANCEST"],
    }
    return {
        "source": row["DONORNAME"],
        "donor_number": row["DONORNUMB"],
        "started_on": started_on,
        "note": join_note(noted),
    }


def _checked(reading: _Reading, line: int, kind: str, values: dict[str, Any]) -> dict[str, Any]:
    """The values as sync would keep them, empty ones left out; what is wrong with one is told by its descriptor."""
    kept = {}
    for name, value in values.items():
        try:
            if value:
                kept[name] = KINDS[kind].fields[name](value)
        except ValueError as error:
            message = say("“{text}” {problem}.", text=str(value)[:40], problem=words_of(error))
            reading.wrong(line, _SOURCES[name], message)
    return kept


def _plan(reading: _Reading) -> Plan:
    """Steps for varieties, then for trees on them, then for their parents. Raises Refused."""
    cards, problems = reading.cards, reading.problems
    plan = Plan(cards, frozenset({"variety", "tree"}))
    plan.steps.append((VARIETIES, plan_cards(VARIETIES, _varieties(reading), cards, problems)))
    for row, variety in reading.trees:
        if variety:
            row.values["variety"] = cards.find("variety", variety)
    plan.steps.append((TREES, plan_cards(TREES, (row for row, _ in reading.trees), cards, problems)))
    for row, parent in reading.parents:
        row.values["parent"] = cards.find("tree", parent)
    plan.late = list(plan_late(((TREES, row) for row, _ in reading.parents), cards, problems))
    problems.refuse_if_any()
    return plan


def _varieties(reading: _Reading) -> Iterator[Row]:
    """The varieties' rows; a species that the variety's card names in other words is left as it is."""
    for row in reading.varieties:
        identity = reading.cards.find("variety", row.values["variety"])
        for card in reading.cards.candidates("variety", identity)[:1] if identity else ():
            ours, theirs = taxon_of(card.fields["species"]), taxon_of(row.values.get("species"))
            if (ours.genus, ours.species) == (theirs.genus, theirs.species) and ours.genus:
                row.values.pop("species", None)
        yield row
