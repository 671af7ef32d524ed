"""The table within a logger's file: where it begins, what separates its cells, and which columns are read. Pure.

Loggers write what they like before and behind their table; it begins where a line holds a time and a number.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from server.errors import Refused, TooLarge
from server.wording.said import say

BYTES_MAX = 16 * 1024 * 1024
ROWS_MAX = 600_000
"""A value a minute for a year."""
ADDRESS_LETTERS_MAX = 200
SEPARATORS = (",", ";", "\t")
SCANNED_LINES = 200
KIND_SHARE = 0.8
"""So many of a column's cells have to be of a kind; loggers write events between their values."""
NO_VALUE = frozenset({"", "-", "--", "---", "----", "nan", "n/a", "na", "null", "none", "err", "error", "ol", "or"})

_DATE = r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}"
_CLOCK = r"\d{1,2}:\d\d(?::\d\d(?:[.,]\d{1,9})?)?(?: ?[AaPp]\.?[Mm]\.?)?"
MOMENT = re.compile(rf"({_DATE})(?:[T,]? *)(?<=[T, ])({_CLOCK}) *(Z|UTC|GMT|[+-]\d\d:?\d\d)?", re.ASCII)
DAY = re.compile(rf"({_DATE})", re.ASCII)
CLOCK = re.compile(rf"({_CLOCK})", re.ASCII)
NUMBER = re.compile(r"([+-]?\d{1,5}(?:[.,]\d{0,10})?) *(?:[°º]? *([CF])|[℃℉])?", re.ASCII)
_UNIT_CELL = re.compile(r"\W*(?:[°º℃℉]? ?[CF]?|%.{0,4}|deg\.? ?[CF]|[a-zA-Z]{0,2})\W*")


@dataclass(frozen=True, slots=True)
class LoggerTable:
    """The rows behind the header; `names` of the columns (empty where there are none), `kinds` what their cells hold.

    A kind is moment (day and time), day, clock, number, or nothing of these; `preamble` is what stands before.
    """

    separator: str
    names: tuple[str, ...]
    kinds: tuple[str, ...]
    preamble: str
    text: str
    rows_from: int

    def rows(self) -> Iterator[tuple[int, list[str]]]:
        """(line, cells) of the table. Raises Refused where a quote never closes, TooLarge over ROWS_MAX."""
        reader = csv.reader(io.StringIO(self.text, newline=""), delimiter=self.separator)
        try:
            for count, cells in enumerate(reader):
                if count < self.rows_from:
                    continue
                if count - self.rows_from >= ROWS_MAX:
                    told = say("It has more than {most:,} values; export a shorter time from the logger.")
                    raise TooLarge(told.filled(most=ROWS_MAX))
                if any(map(str.strip, cells)):
                    yield reader.line_num, [cell.strip() for cell in cells]
        except csv.Error as error:
            told = say("Line {line} can't be read ({why}); export the file again.")
            raise Refused(told.filled(line=reader.line_num, why=str(error))) from error

    def called(self, name: str) -> int:
        """The column of this name, or of this number from 1. Raises Refused that lists what there is."""
        wanted = _loosely(name)
        found = [n for n, each in enumerate(self.names) if _loosely(each) == wanted]
        numbers = [str(n + 1) for n in range(len(self.kinds))]
        if not found and wanted in numbers:
            return numbers.index(wanted)
        if len(found) != 1:
            two = say("Two columns are called “{name}”; there are: {listed}.")
            told = two if found else say("No column is called “{name}”; there are: {listed}.")
            raise Refused(told.filled(name=name[:60], listed=self.listed(range(len(self.kinds)))))
        return found[0]

    def of_kind(self, *kinds: str) -> list[int]:
        """The columns whose cells hold this."""
        return [n for n, kind in enumerate(self.kinds) if kind in kinds]

    def listed(self, columns: Sequence[int]) -> str:
        """Columns by number and name, for a message."""
        return ", ".join(f"{n + 1} “{self.label(n)}”" if self.label(n) else str(n + 1) for n in columns)

    def choices(self, columns: Sequence[int]) -> tuple[tuple[str, str], ...]:
        """Columns to choose from: what `called` takes for each, and what a reader is shown."""
        return tuple((self._address(n), self.label(n) or str(n + 1)) for n in columns)

    def _address(self, column: int) -> str:
        """A column's name where no other has it, else its number."""
        name = self.names[column] if column < len(self.names) else ""
        alone = [_loosely(each) for each in self.names].count(_loosely(name)) == 1
        return name if name and alone and len(name) <= ADDRESS_LETTERS_MAX else str(column + 1)

    def label(self, column: int) -> str:
        """The name of a column, or nothing."""
        return self.names[column][:60] if column < len(self.names) else ""


def decode(data: bytes) -> str:
    """A file's text: UTF-8, UTF-16 with its mark, or else the characters of Windows, of which only “°” matters here."""
    if len(data) > BYTES_MAX:
        size_mb, max_mb = len(data) / 1e6, BYTES_MAX / 1e6
        told = say("The file has {size:.1f} MB; at most {most:.0f} MB are taken. Export a shorter time.")
        raise TooLarge(told.filled(size=size_mb, most=max_mb))
    for encoding in ("utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return data.decode("latin-1")


def find_table(text: str) -> LoggerTable:
    """Find the table and what its columns hold. Raises Refused where no line holds a time and a number."""
    scanned = {separator: _scan(text, separator) for separator in SEPARATORS}
    separator = max(SEPARATORS, key=lambda each: sum(map(_is_data, scanned[each])))
    rows = scanned[separator]
    first = next((n for n, row in enumerate(rows) if _is_data(row)), None)
    if first is None:
        raise Refused(
            say(
                "No line of the file holds a time and a number in cells of their own; export it from the logger as CSV,"
                " with a column of times such as 2026-05-03 08:30 and one of temperatures."
            )
        )
    width = max(len(row) for row in rows[first:] if _is_data(row))
    names, used = _header(rows[:first], width)
    if names and width > len(names):
        told = say(
            "Its lines have {width} cells and its header {named}; where commas separate cells and mark decimals too,"
            " nobody can tell them apart. Export it with semicolons, or with decimal points."
        )
        raise Refused(told.filled(width=width, named=len(names)))
    preamble = " ".join(" ".join(row) for row in rows[: first - used])
    data = [row for row in rows[first:] if _is_data(row)]
    kinds = tuple(_kind([row[n] for row in data if n < len(row)]) for n in range(width))
    return LoggerTable(separator, names, kinds, preamble, text, first)


def _scan(text: str, separator: str) -> list[list[str]]:
    """The first rows of the file, empty ones too, so that they count."""
    found: list[list[str]] = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator):
            found.append([cell.strip() for cell in row])
            if len(found) >= SCANNED_LINES:
                break
    except csv.Error:
        pass  # a quote in what stands before the table; what was read so far may be enough
    return found


def _is_data(row: Sequence[str]) -> bool:
    """Whether a row holds a time and, in another cell, a number."""
    timed = any(MOMENT.fullmatch(cell) for cell in row)
    timed = timed or (any(map(DAY.fullmatch, row)) and any(map(CLOCK.fullmatch, row)))
    return timed and any(map(NUMBER.fullmatch, row))


def _header(before: list[list[str]], width: int) -> tuple[tuple[str, ...], int]:
    """The names above the first row, and how many lines they take; a line of units below them is joined to them."""
    lines = [(n, row) for n, row in enumerate(reversed(before), 1) if any(row)]
    if not lines or sum(map(bool, lines[0][1])) < 2:
        return (), 0
    used, names = lines[0]
    if all(map(_UNIT_CELL.fullmatch, names)) and len(lines) > 1 and len(lines[1][1]) == len(names):
        used = lines[1][0]
        names = [f"{name} {unit}".strip() for name, unit in zip(lines[1][1], names, strict=True)]
    while len(names) > width and not names[-1]:
        names = names[:-1]
    return tuple(names), used


def _kind(cells: list[str]) -> str:
    """What most of a column's cells hold."""
    for kind, shape in (("moment", MOMENT), ("day", DAY), ("clock", CLOCK), ("number", NUMBER)):
        fits = [cell for cell in cells if shape.fullmatch(cell)]
        told = [cell for cell in cells if cell.lower() not in NO_VALUE]
        if fits and len(fits) >= KIND_SHARE * len(told):
            return kind
    return ""


def _loosely(name: str) -> str:
    return " ".join(name.casefold().split())
