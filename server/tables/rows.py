"""A row of cells to the values of a record, every cell checked as the wire would check it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from server import ids
from server.errors import BadTagCode, TooLarge
from server.records.queries import time_zone
from server.records.writing import seconds
from server.sync.change import milliseconds
from server.sync.fields import KINDS, Check
from server.sync.push import AHEAD_MS_MAX, DAYS_AHEAD_MAX
from server.tables import cells
from server.tables.cards import Cards
from server.tables.columns import Table
from server.tables.csv_files import ROWS_MAX, CsvFile, read_rows
from server.tables.problems import Problems

REMEMBERED_CELLS_MAX = 20_000
# Columns whose cells need nothing but their reading.
_PLAIN: dict[str, Check] = {"tag": cells.read_tag, "heated": cells.read_truth, "dropped": cells.read_truth}


@dataclass(slots=True)
class Row:
    """One row: where it stands, and a value for each field whose cell is filled."""

    file: str
    line: int
    values: dict[str, Any]


class _Column(dict[str, Any]):
    """A column's cells and their values, remembered: most cells of a long file were seen before."""

    def __init__(self, field: str, check: Check) -> None:
        super().__init__()
        self.field, self.check = field, check

    def __missing__(self, cell: str) -> Any:
        value = self.check(cell)
        if len(self) >= REMEMBERED_CELLS_MAX:
            self.clear()
        self[cell] = value
        return value


@dataclass(slots=True)
class RowReader:
    """Reads rows against the cards known so far.

    `given` are the kinds that the import brings files for: a name of another kind that nobody knows becomes a card
    of its own, listed in `bare`; with a file of its kind at hand it would be a slip of the pen, and is refused.
    `late` holds the cells that are read once all cards are known, with the sound row that each belongs to.
    """

    cards: Cards
    given: frozenset[str]
    problems: Problems
    bare: dict[str, list[tuple[str, str]]] = field(default_factory=lambda: {"variety": [], "place": []})
    late: list[tuple[CsvFile, Row, list[tuple[str, str]]]] = field(default_factory=list)
    zone: ZoneInfo = field(default_factory=time_zone)
    now_ms: int = field(default_factory=ids.now_ms)
    count: int = 0

    def read(self, file: CsvFile) -> Iterator[Row]:
        """The rows of a file that are sound; what is wrong with the others goes to the problems.

        Raises TooLarge over two million rows in one import.
        """
        columns = {column: _Column(file.table.field(column), self._check(file, column)) for column in file.columns}
        required = frozenset(file.table.required)
        for line, filled in read_rows(file, self.problems):
            self.count += 1
            if self.count > ROWS_MAX:
                raise TooLarge(f"The import has more than {ROWS_MAX:,} rows; split it into several.")
            before = self.problems.count
            late = [(column, cell) for column, cell in filled if column in file.table.late]
            row = self._row(file, line, [each for each in filled if each not in late] if late else filled, columns)
            for column in required - {column for column, _ in filled}:
                self.problems.add(file.name, line, column, "This cell is empty; every row needs it.")
            if self.problems.count == before:
                if late:
                    self.late.append((file, row, late))
                yield row

    def read_late(self) -> Iterator[tuple[Table, Row]]:
        """The sound rows that name another tree or a batch: a row of the key and of these alone."""
        columns: dict[tuple[str, bool], dict[str, _Column]] = {}
        for file, row, late in self.late:
            table = file.table
            known = columns.setdefault(
                (table.file, file.decimal_comma),
                {column: _Column(table.field(column), self._check(file, column)) for column in table.late},
            )
            before = self.problems.count
            found = self._row(file, row.line, late, known)
            if self.problems.count == before:
                yield table, Row(row.file, row.line, {table.key[0]: row.values[table.key[0]], **found.values})

    def _row(self, file: CsvFile, line: int, filled: list[tuple[str, str]], columns: dict[str, _Column]) -> Row:
        values = {}
        for name, cell in filled:
            column = columns[name]
            try:
                value = column[cell]
            except (ValueError, BadTagCode) as error:
                self.problems.add(file.name, line, name, _in_words(cell, str(error)))
            else:
                if value is not None:
                    values[column.field] = value
        low, high = values.get("t_min_c"), values.get("t_max_c")
        if low is not None and high is not None and low > high:
            self.problems.add(file.name, line, "t_min_c", f"The lowest ({low:g}) is above the highest ({high:g}).")
        return Row(file.name, line, values)

    def _check(self, file: CsvFile, column: str) -> Check:
        """What a column's cells go through, from text to the value that is kept."""
        kind = KINDS[file.table.kind]
        name = file.table.field(column)
        if name in kind.refers:
            return partial(self._reference, kind.refers[name])
        if column in _PLAIN:
            return _PLAIN[column]
        check = kind.fields[name]
        if column in cells.NUMBERS:
            return lambda cell: check(cells.read_number(cell, file.decimal_comma))
        if column == kind.at:
            return lambda cell: self._not_ahead(check(cells.read_moment(cell, self.zone)))
        if name in DAYS_AHEAD_MAX:
            return lambda cell: _not_later_than(check(cells.read_text(cell)), DAYS_AHEAD_MAX[name])
        turned = self._job_key if (file.table.kind, column) == ("job", "key") else str
        return lambda cell: check(turned(cells.read_text(cell))) or None

    def _job_key(self, text: str) -> str:
        """The name of a computed job, in which an export wrote tags for trees, with the trees' ids."""
        parts = text.split(":")
        return ":".join(
            self._reference("tree", part.removeprefix(cells.TAG_MARK)) if part.startswith(cells.TAG_MARK) else part
            for part in parts
        )

    def _not_ahead(self, text: str) -> str:
        if milliseconds(text) > self.now_ms + AHEAD_MS_MAX:
            raise ValueError("lies in the future; check day, month and offset")
        return text

    def _reference(self, kind: str, cell: str) -> str:
        name = cells.read_tag(cell) if kind == "tree" else KINDS[kind].fields[kind](cells.read_text(cell))
        found = self.cards.find(kind, name)
        if found is not None:
            return found
        if kind == "tree":
            raise ValueError(f"No tree has the tag {name}; check the code, or list the tree in trees.csv.")
        if kind in self.given:
            near = " or ".join(f"“{each}”" for each in self.cards.names[kind].nearest(name))
            hint = f"did you mean {near}?" if near else f"check the name, or list it in the file of {kind} cards."
            raise ValueError(f"No {kind} is called “{name}”; {hint}")
        identity = ids.new_id()
        self.cards.add(kind, identity, name)
        self.bare.setdefault(kind, []).append((identity, name))
        return identity


def fact_key(table: Table, values: dict[str, Any], cards: Cards) -> tuple[Any, ...]:
    """What tells a fact from others: its tree or place, its instant, and the further fields of its table's key.

    A place stands for all places of its name. Two values that mean the same instant give the same key.
    """
    owner, at, *further = table.key
    refers = KINDS[table.kind].refers
    when = values[at] if at == "date" else seconds(values[at])
    named = [_named(cards, refers.get(name), values.get(name)) for name in (owner, *further)]
    return (named[0], when, *named[1:])


def plan_key(table: Table, values: dict[str, Any], cards: Cards) -> tuple[Any, ...]:
    """What tells a batch, job or lesson from others; a place or variety stands for all of its name."""
    refers = KINDS[table.kind].refers
    return tuple(_named(cards, refers.get(name), values.get(name)) for name in table.key)


def _named(cards: Cards, kind: str | None, value: Any) -> Any:
    return cards.names[kind].name_of[value] if kind in cards.names and value is not None else value


def _not_later_than(day: str, ahead: int) -> str:
    if date.fromisoformat(day) > ids.now().date() + timedelta(days=ahead):
        raise ValueError("lies too far in the future; check day and month")
    return day


def _in_words(cell: str, message: str) -> str:
    """A check's message as a sentence that shows the cell, once."""
    if message.startswith("is "):
        return f"It {message.rstrip('.')}."
    if message.startswith(("“", "No ")):
        return message
    return f"“{cell.strip()[:40]}” {message.rstrip('.')}."
