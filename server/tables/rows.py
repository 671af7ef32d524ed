"""A row of cells to the values of a record, every cell checked as the wire would check it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from server import ids
from server.errors import BadTagCode, TooLarge
from server.records.queries import time_zone
from server.records.writing import seconds
from server.sync.change import milliseconds
from server.sync.fields import KINDS
from server.sync.push import AHEAD_MS_MAX, FORECAST_DAYS_MAX
from server.tables import cells
from server.tables.cards import Cards
from server.tables.columns import Table
from server.tables.csv_files import ROWS_MAX, CsvFile, read_rows
from server.tables.problems import Problems

_DAYS_AHEAD_MAX = {"started_on": 1, "date": FORECAST_DAYS_MAX}


@dataclass(slots=True)
class Row:
    """One row: where it stands, and a value for each field whose cell is filled."""

    file: str
    line: int
    values: dict[str, Any]


@dataclass(slots=True)
class RowReader:
    """Reads rows against the cards known so far.

    `given` are the kinds that the import brings files for: a name of another kind that nobody knows becomes a card
    of its own, listed in `bare`; with a file of its kind at hand it would be a slip of the pen, and is refused.
    """

    cards: Cards
    given: frozenset[str]
    problems: Problems
    bare: dict[str, list[tuple[str, str]]] = field(default_factory=lambda: {"variety": [], "place": []})
    zone: ZoneInfo = field(default_factory=time_zone)
    now_ms: int = field(default_factory=ids.now_ms)
    count: int = 0

    def read(self, file: CsvFile) -> Iterator[Row]:
        """The rows of a file that are sound; what is wrong with the others goes to the problems.

        Raises TooLarge over two million rows in one import.
        """
        for line, filled in read_rows(file, self.problems):
            self.count += 1
            if self.count > ROWS_MAX:
                raise TooLarge(f"The import has more than {ROWS_MAX:,} rows; split it into several.")
            row = self._row(file, line, filled)
            if row is not None:
                yield row

    def _row(self, file: CsvFile, line: int, filled: list[tuple[str, str]]) -> Row | None:
        before = self.problems.count
        table, values = file.table, {}
        for column, cell in filled:
            try:
                value = self._value(file, column, cell)
            except (ValueError, BadTagCode) as error:
                self.problems.add(file.name, line, column, _in_words(cell, str(error)))
            else:
                if value not in (None, ""):
                    values[table.field(column)] = value
        present = {column for column, _ in filled}
        for column in table.required:
            if column not in present:
                self.problems.add(file.name, line, column, "This cell is empty; every row needs it.")
        low, high = values.get("t_min_c"), values.get("t_max_c")
        if low is not None and high is not None and low > high:
            self.problems.add(file.name, line, "t_min_c", f"The lowest ({low:g}) is above the highest ({high:g}).")
        return Row(file.name, line, values) if self.problems.count == before else None

    def _value(self, file: CsvFile, column: str, cell: str) -> Any:
        table = file.table
        kind = KINDS[table.kind]
        name = table.field(column)
        if name in kind.refers:
            return self._reference(kind.refers[name], cell)
        if column == "tag":
            return cells.read_tag(cell)
        if column in cells.NUMBERS:
            return kind.fields[name](cells.read_number(cell, file.decimal_comma))
        if column == "heated":
            return cells.read_truth(cell)
        if column == kind.at:
            return self._moment(kind.fields[name](cells.read_moment(cell, self.zone)))
        value = kind.fields[name](cells.read_text(cell))
        if name in _DAYS_AHEAD_MAX:
            _refuse_later_than(value, _DAYS_AHEAD_MAX[name])
        return value

    def _moment(self, text: str) -> str:
        if milliseconds(text) > self.now_ms + AHEAD_MS_MAX:
            raise ValueError("lies in the future; check day, month and offset")
        return text

    def _reference(self, kind: str, cell: str) -> str:
        name = cells.read_tag(cell) if kind == "tree" else KINDS[kind].fields[kind](cells.read_text(cell))
        found = self.cards.find(kind, name)
        if found is not None:
            return found
        if kind == "tree":
            raise ValueError(f"No tree has the tag {name}; check the code, or list the tree in trees.csv")
        if kind in self.given:
            near = " or ".join(f"“{each}”" for each in self.cards.names[kind].nearest(name))
            hint = f"did you mean {near}?" if near else f"check the name, or list it in the file of {kind} cards"
            raise ValueError(f"No {kind} is called “{name}”; {hint}")
        identity = ids.new_id()
        self.cards.add(kind, identity, name)
        self.bare[kind].append((identity, name))
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


def _named(cards: Cards, kind: str | None, value: Any) -> Any:
    return cards.names[kind].name_of[value] if kind in cards.names and value is not None else value


def _refuse_later_than(day: str, ahead: int) -> None:
    if date.fromisoformat(day) > ids.now().date() + timedelta(days=ahead):
        raise ValueError("lies too far in the future; check day and month")


def _in_words(cell: str, message: str) -> str:
    shown = cell.strip()
    if shown[:20] in message:
        return f"{message[0].upper()}{message[1:].rstrip('.')}."
    return f"“{shown[:40]}” {message.rstrip('.')}."
