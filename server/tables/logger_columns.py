"""Which columns of a logger's table are the time and the temperature, and in which unit. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import islice

from server.errors import Refused, Unclear
from server.tables.logger_table import NUMBER, LoggerTable
from server.wording.said import say

UNITS = ("c", "f")
UNIT_ROWS_MAX = 100

_TEMPERATURE = re.compile(
    r"temp|lämpö|hőm|°|º|℃|℉|celsius|fahrenheit|^t[1-9]?$|^[cf]$|\([cf]\)$|\[[cf]\]$", re.IGNORECASE
)
_NOT_AIR = re.compile(r"dew|taupunkt|ros[eé]e|roc[ií]o|rugiada|humid|feucht|humed|umid|rh\b|%|batt|volt", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"[°º] ?F\b|℉|\bdeg\.? ?F\b|\(F\)|\[F\]|fahrenheit|[_ ,/]F$", re.IGNORECASE)
_CELSIUS = re.compile(r"[°º] ?C\b|℃|\bdeg\.? ?C\b|\(C\)|\[C\]|celsius|centigrad|[_ ,/]C$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Ask:
    """What the grower says about the file; None is for the file to tell."""

    column: str | None = None
    time_column: str | None = None
    unit: str | None = None
    day_order: str | None = None


def temperature_column(table: LoggerTable, asked: str | None) -> int:
    """The column of temperatures: the asked one, or the only one that can be. Raises Refused that lists which could."""
    numbers = table.of_kind("number")
    if asked is not None:
        column = table.called(asked)
        if column not in numbers:
            told = say("Column “{name}” holds no numbers; columns that do: {listed}.")
            raise Refused(told.filled(name=asked[:60], listed=table.listed(numbers)))
        return column
    could = [n for n in numbers if not _NOT_AIR.search(table.label(n))]
    named = [n for n in could if _TEMPERATURE.search(table.label(n)) or _marks(table, n)]
    found = named or (numbers if len(numbers) == 1 else [])
    if len(found) != 1:
        listed = table.listed(found or numbers)
        raise Unclear(
            "column",
            say("Which column is the temperature? Say it with --column, by name or number: {listed}.", listed=listed),
            table.choices(found or numbers),
        )
    return found[0]


def time_columns(table: LoggerTable, asked: str | None) -> list[int]:
    """The column of times; or that of days and that of clock times. Raises Refused that lists which could be."""
    moments, days, clocks = (table.of_kind(kind) for kind in ("moment", "day", "clock"))
    if asked is not None:
        column = table.called(asked)
        if column in moments:
            return [column]
        moments, days = [], [column] if column in days else []
    if len(moments) == 1:
        return moments
    if not moments and len(days) == len(clocks) == 1:
        return [days[0], clocks[0]]
    could = [*moments, *(days if len(clocks) == 1 else ())]
    listed = table.listed([*moments, *days, *clocks])
    raise Unclear(
        "time_column",
        say("Which column is the time? Say it with --time-column, by name or number: {listed}.", listed=listed),
        table.choices(could),
    )


def unit_of(table: LoggerTable, column: int, asked: str | None) -> str:
    """c or f: as asked, or as the column's name, what stands before the table, or the cells say. Raises Refused."""
    if asked is not None:
        return asked
    for text in (table.label(column), table.preamble):
        fahrenheit, celsius = _FAHRENHEIT.search(text), _CELSIUS.search(text)
        if fahrenheit and celsius:
            break
        if fahrenheit or celsius:
            return "f" if fahrenheit else "c"
    marks = _marks(table, column)
    if len(marks) == 1:
        return marks.pop().lower()
    raise Unclear(
        "unit",
        say("Are these degrees Celsius or Fahrenheit? The file does not say; say it with --unit c or --unit f."),
        (("c", "°C"), ("f", "°F")),
    )


def _marks(table: LoggerTable, column: int) -> set[str]:
    """The units that stand within a column's first cells: C, F, both or none."""
    return {mark for _, cells in islice(table.rows(), UNIT_ROWS_MAX) if (mark := _mark(cells, column))}


def _mark(cells: list[str], column: int) -> str:
    """The unit that stands behind a number within its cell."""
    cell = cells[column] if column < len(cells) else ""
    found = NUMBER.fullmatch(cell)
    if found is None:
        return ""
    return found[2] or {"℃": "C", "℉": "F"}.get(cell[-1], "")
