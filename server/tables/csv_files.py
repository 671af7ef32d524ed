"""CSV files as a grower's programs write them: finding them, their header, and their rows one by one."""

from __future__ import annotations

import csv
import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from server.errors import Refused, TooLarge
from server.tables.columns import PHOTOS_FILE, TABLES, Table
from server.tables.problems import Problems
from server.wording.said import say

SIZE_BYTES_MAX = 1_000_000_000
ROWS_MAX = 2_000_000
CELL_LENGTH_MAX = 131_072
LINE_LENGTH_MAX = 1_000_000
HEADER_LENGTH_MAX = 10_000
FILES_MAX = 1000
SEPARATORS = (",", ";", "\t")
_KNOWN = ", ".join(TABLES)


@dataclass(frozen=True, slots=True)
class CsvFile:
    """A file whose header was read: its separator and, cell by cell, the column (trailing empty ones are none).

    `name` is how messages call it.
    """

    path: Path
    name: str
    table: Table
    separator: str
    columns: tuple[str, ...]

    @property
    def decimal_comma(self) -> bool:
        """Whether 1,5 can be a number here: only where a comma does not separate cells."""
        return self.separator != ","


@dataclass(frozen=True, slots=True)
class Found:
    """The files to import, in an order in which none refers to a later one, and what was left aside."""

    files: list[tuple[Path, Table]]
    notes: list[str]


def find_files(paths: Sequence[Path]) -> Found:
    """Recognise files, and those within folders, by their names. Raises Refused for one that is not known."""
    found: dict[Path, tuple[Path, Table]] = {}
    notes: list[str] = []
    for path in paths:
        try:
            for each in _expand(path, notes):
                found.setdefault(each.resolve(), (each, TABLES[each.name.lower()]))
        except OSError as error:
            raise Refused(f"{path} can't be read ({error.strerror}); check its name and who may read it.") from error
    if not found and notes:
        raise Refused(f"There is nothing to import. {' '.join(notes)}")
    if len(found) > FILES_MAX:
        raise TooLarge(f"{len(found)} files are too many for one import; at most {FILES_MAX}.")
    order = list(TABLES.values())
    return Found(sorted(found.values(), key=lambda pair: order.index(pair[1])), notes)


def _expand(path: Path, notes: list[str]) -> list[Path]:
    if path.is_dir():
        listed = sorted(each for each in path.iterdir() if each.is_file() and each.suffix.lower() == ".csv")
        known = [each for each in listed if each.name.lower() in TABLES]
        notes.extend(_note(each) for each in listed if each.name.lower() not in TABLES)
        if not known:
            raise Refused(f"{path} holds none of the files that can be imported: {_KNOWN}.")
        return known
    if not path.exists():
        raise Refused(f"{path} does not exist; check the name.")
    if path.name.lower() == PHOTOS_FILE:
        notes.append(_note(path))
        return []
    if path.name.lower() not in TABLES:
        raise Refused(f"{path} is not known by its name; rename it to what it holds: {_KNOWN}.")
    if not path.is_file():
        raise Refused(f"{path} is not a plain file; copy it to one first.")
    return [path]


def _note(path: Path) -> str:
    if path.name.lower() == PHOTOS_FILE:
        return f"{path} was left aside: photos come in through the phone or a backup, not through an import."
    return f"{path} was left aside: it is none of {_KNOWN}."


def open_file(path: Path, table: Table, problems: Problems, name: str = "") -> CsvFile | None:
    """Read the header; None (with the reason among the problems) when the rows can't be understood.

    Messages call the file by `name`, or by its path where none is given.
    """
    name = name or str(path)
    try:
        if path.stat().st_size > SIZE_BYTES_MAX:
            told = say("{file} is larger than {most:,} bytes; split it and import the parts.")
            raise TooLarge(told.filled(file=name, most=SIZE_BYTES_MAX))
        with path.open("rb") as file:
            if file.read(2) in (b"\xff\xfe", b"\xfe\xff"):
                problems.add(name, 0, "", say("It is written in UTF-16; save it again as “CSV UTF-8”."))
                return None
        with path.open(encoding="utf-8-sig", newline="") as file:
            line, text = _first_line(file)
        if len(text) > HEADER_LENGTH_MAX:
            told = say("The first line is too long; it must name the columns: {known}.")
            problems.add(name, line, "", told.filled(known=", ".join(table.all_columns)))
            return None
    except UnicodeDecodeError:
        problems.add(name, _undecodable_line(path), "", _NOT_UTF8)
        return None
    except OSError as error:
        told = say("{file} can't be read ({why}); check who may read it.")
        raise Refused(told.filled(file=name, why=error.strerror)) from error
    separator, names = _split_header(text, table)
    before = problems.count
    _check_header(name, line, names, table, problems)
    return None if problems.count > before else CsvFile(path, name, table, separator, tuple(names))


_NOT_UTF8 = say("It is not UTF-8 text; save it again as “CSV UTF-8”, so that accents and umlauts come in right.")


def _lines(file: TextIO) -> Iterator[str]:
    """Lines, cut where one is longer than any row can be: a file without line ends must not fill the memory."""
    return iter(lambda: file.readline(LINE_LENGTH_MAX), "")


def _first_line(file: TextIO) -> tuple[int, str]:
    for number, line in enumerate(_lines(file), 1):
        if line.strip():
            return number, line.strip("\r\n")
    return 0, ""


def _split_header(text: str, table: Table) -> tuple[str, list[str]]:
    """The separator by which most names are known columns, and the names; the comma where it makes no difference."""
    split = {separator: _names(text, separator) for separator in SEPARATORS}
    separator = max(SEPARATORS, key=lambda each: sum(name in table.all_columns for name in split[each]))
    return separator, split[separator]


def _names(text: str, separator: str) -> list[str]:
    try:
        names = [name.strip().lower() for name in next(csv.reader([text], delimiter=separator), [])]
    except csv.Error:
        return [text]
    while names and not names[-1]:
        names.pop()
    return names


def _check_header(file: str, line: int, names: list[str], table: Table, problems: Problems) -> None:
    known = ", ".join(table.all_columns)
    if not names:
        problems.add(file, 0, "", say("It is empty; its first line must name the columns: {known}.", known=known))
        return
    if not any(name in table.all_columns for name in names):
        told = say("The first line must name the columns; {table} has: {known}.", table=table.file, known=known)
        problems.add(file, line, "", told)
        return
    for position, name in enumerate(names):
        if not name:
            told = say("Column {number} has no name; name it or take it out.", number=position + 1)
            problems.add(file, line, "", told)
        elif name not in table.all_columns:
            near = difflib.get_close_matches(name, table.all_columns, 1)
            told = (
                say("Unknown column; did you mean {near}? {table} has: {known}.")
                if near
                else say("Unknown column; {table} has: {known}.")
            )
            problems.add(file, line, name[:60], told.filled(near="".join(near), table=table.file, known=known))
        elif name in names[:position]:
            problems.add(file, line, name, say("This column stands there twice; take one out."))
    for name in table.required:
        if name not in names:
            problems.add(file, line, name, say("This column is missing; every row needs it."))


def read_rows(file: CsvFile, problems: Problems) -> Iterator[tuple[int, list[tuple[str, str]]]]:
    """(line, [(column, cell)]) for every row that has a cell filled; empty cells are left out.

    A row with too few or too many cells is a problem, as are a quote that never closes and bytes that are not UTF-8.
    """
    width = len(file.columns)
    try:
        with file.path.open(encoding="utf-8-sig", newline="") as opened:
            reader = csv.reader(_lines(opened), delimiter=file.separator, strict=True)
            line = _skip_header(reader)
            for cells in reader:
                start, line = line + 1, reader.line_num
                if not any(map(str.strip, cells)):
                    continue
                if len(cells) < width or any(map(str.strip, cells[width:])):
                    problems.add(file.name, start, "", _ragged(len(cells), width))
                    continue
                yield start, [(column, cell) for column, cell in zip(file.columns, cells, strict=False) if cell.strip()]
    except csv.Error as error:
        problems.add(file.name, reader.line_num, "", _csv_error(error))
    except UnicodeDecodeError:
        problems.add(file.name, _undecodable_line(file.path), "", _NOT_UTF8)
    except OSError as error:
        told = say("{file} can't be read ({why}); try again.", file=file.name, why=error.strerror)
        raise Refused(told) from error


def _skip_header(reader: Iterator[list[str]]) -> int:
    for cells in reader:
        if any(map(str.strip, cells)):
            break
    return int(reader.line_num)  # type: ignore[attr-defined]


def _ragged(count: int, width: int) -> str:
    ragged = say(
        "It has {cells} cells, the header {width}; a separator may be missing,"
        " or stand in a text that needs quotes around it."
    )
    return ragged.filled(cells=count, width=width)


def _csv_error(error: csv.Error) -> str:
    if "field larger" in str(error):
        long = say("A cell is longer than {most} characters; a quote before it may never close.")
        return long.filled(most=CELL_LENGTH_MAX)
    return say("A quote never closes, or text follows a closing quote; write a quote inside a quoted text twice.")


def _undecodable_line(path: Path) -> int:
    with path.open("rb") as file:
        for number, line in enumerate(file, 1):
            try:
                line.decode("utf-8")
            except UnicodeDecodeError:
                return number
    return 0
