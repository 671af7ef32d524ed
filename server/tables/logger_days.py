"""From a logger's values to each day's lowest and highest temperature, and how much of the day they cover. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta, timezone
from itertools import pairwise
from statistics import median
from zoneinfo import ZoneInfo

from server.errors import Refused
from server.tables.logger_columns import Ask, temperature_column, time_columns, unit_of
from server.tables.logger_table import CLOCK, DAY, MOMENT, NO_VALUE, NUMBER, LoggerTable
from server.tables.logger_times import Clock, clock_s, offset_in_name, offset_of, read_order
from server.tables.problems import Problems
from server.wording.said import say

COVERED_LEAST, COVERED_FULL = 2 / 3, 0.95
"""Shares of a day; common practice, no published source."""
SPEAKS_S_MIN, SPEAKS_S_MAX = 3600, 3 * 3600
"""A value speaks for so long around it at least (a logger may write only changes) and at most."""
PLAUSIBLE_C = (-60.0, 70.0)
AHEAD_S_MAX = 3600
YEAR_MIN = 1900
DAYS_MAX = 20_000


@dataclass(frozen=True, slots=True)
class LoggerDay:
    """One day: lowest and highest in °C, and the share of the day that values speak for."""

    day: date
    t_min_c: float
    t_max_c: float
    covered: float

    @property
    def in_full(self) -> bool:
        """Whether nothing of the day that matters is missing."""
        return self.covered >= COVERED_FULL


@dataclass(frozen=True, slots=True)
class LoggerDays:
    """The days of a file: those kept, those left out as too little of them is covered, and how it was read."""

    column: str
    unit: str
    kept: tuple[LoggerDay, ...]
    left_out: tuple[LoggerDay, ...]
    values: int
    without_value: int


@dataclass(slots=True)
class _Gathering:
    """Values as they come in: lowest and highest by local day, the moments of all, and rows without a value."""

    clock: Clock
    unit: str
    now_s: int
    name: str
    problems: Problems
    lows: dict[date, float] = field(default_factory=dict)
    highs: dict[date, float] = field(default_factory=dict)
    moments_s: list[int] = field(default_factory=list)
    without_value: int = 0

    def take(self, row: _Raw, day: date) -> None:
        """Take one row in, or note what is wrong with it."""
        if row.value is None:
            self.without_value += 1
            return
        value = round((row.value - 32) / 1.8, 2) if self.unit == "f" else row.value
        if not PLAUSIBLE_C[0] <= value <= PLAUSIBLE_C[1]:
            message = say("{value:g} °{unit} is no temperature of air; take the line out, or check the unit.")
            filled = message.filled(value=row.value, unit=self.unit.upper())
            self.problems.add(self.name, row.line, "", filled)
            return
        try:
            at_s, local = self.clock.moment(day, row.second, row.offset)
        except (ValueError, OverflowError):
            at_s, local = self.now_s + AHEAD_S_MAX + 1, day
        if at_s > self.now_s + AHEAD_S_MAX or local.year < YEAR_MIN:
            message = say("{day} lies in the future or long ago; check the logger's clock, or give --day-order.")
            self.problems.add(self.name, row.line, "", message.filled(day=local))
            return
        self.moments_s.append(at_s)
        self.lows[local] = min(value, self.lows.get(local, value))
        self.highs[local] = max(value, self.highs.get(local, value))


@dataclass(frozen=True, slots=True)
class _Raw:
    """One row as it was written: its date's text, second of the day, offset and temperature (None: no value)."""

    line: int
    date_text: str
    second: int
    offset: timezone | None
    value: float | None


def days_of(table: LoggerTable, ask: Ask, zone: ZoneInfo, now_s: int, name: str) -> LoggerDays:
    """Read a logger's table into days in the zone.

    Raises Refused where column, unit or date can't be told, or with the lines that are wrong; TooLarge over a limit.
    """
    column, times = temperature_column(table, ask.column), time_columns(table, ask.time_column)
    unit = unit_of(table, column, ask.unit)
    problems = Problems()
    raw = list(_raw_rows(table, column, times, problems, name))
    problems.refuse_if_any()
    first_lines: dict[str, int] = {}
    for row in raw:
        first_lines.setdefault(row.date_text, row.line)
    dates = read_order(first_lines.items(), ask.day_order)
    clock = Clock(zone, offset_in_name(" ".join(table.label(n) for n in times)))
    found = _Gathering(clock, unit, now_s, name, problems)
    for row in raw:
        found.take(row, dates[row.date_text])
    problems.refuse_if_any()
    if len(found.lows) > DAYS_MAX:
        told = say("Its values lie on {count:,} days; check the dates, or export a shorter time.")
        raise Refused(told.filled(count=len(found.lows)))
    days = list(_days(found))
    return LoggerDays(
        column=table.label(column) or str(column + 1),
        unit=unit,
        kept=tuple(day for day in days if day.covered >= COVERED_LEAST),
        left_out=tuple(day for day in days if day.covered < COVERED_LEAST),
        values=len(found.moments_s),
        without_value=found.without_value,
    )


def _raw_rows(table: LoggerTable, column: int, times: list[int], problems: Problems, name: str) -> Iterator[_Raw]:
    """The rows as they are written; what is no row of the table is left aside, what is half of one is a problem."""
    label, time_label = (table.label(n) or str(n + 1) for n in (column, times[0]))
    for line, cells in table.rows():
        cell = cells[column] if column < len(cells) else ""
        written = _written_time([cells[n] if n < len(cells) else "" for n in times])
        number = NUMBER.fullmatch(cell.replace("−", "-"))
        if written is None:
            if number is not None:
                problems.add(name, line, time_label, say("A value stands here without a time; take the line out."))
            continue
        date_text, clock_text, offset_text = written
        second = clock_s(clock_text)
        if second is None:
            problems.add(name, line, time_label, say("“{text}” is no time of the day.", text=clock_text))
        elif number is None and cell.lower() not in NO_VALUE:
            message = say("“{text}” is no number; correct it, or empty the cell.", text=cell[:40])
            problems.add(name, line, label, message)
        else:
            value = None if number is None else float(number[1].replace(",", "."))
            yield _Raw(line, date_text, second, offset_of(offset_text) if offset_text else None, value)


def _written_time(cells: list[str]) -> tuple[str, str, str | None] | None:
    """(date, clock, offset) as they are written; None where there is no time."""
    if len(cells) == 1:
        found = MOMENT.fullmatch(cells[0])
        return (found[1], found[2], found[3]) if found else None
    day, clock = DAY.fullmatch(cells[0]), CLOCK.fullmatch(cells[1])
    return (day[1], clock[1], None) if day and clock else None


def _days(found: _Gathering) -> Iterator[LoggerDay]:
    clock = found.clock
    moments_s = sorted(set(found.moments_s))
    speaks_s = _speaks_s(moments_s)
    covered_s = dict.fromkeys(sorted(found.lows), 0.0)
    bounds = {day: clock.day_bounds_s(day) for day in covered_s}
    for start_s, end_s, day in _spans(moments_s, speaks_s, clock):
        if day in covered_s:
            low, high = bounds[day]
            covered_s[day] += max(0.0, min(end_s, high) - max(start_s, low))
    for day, seconds in covered_s.items():
        low, high = bounds[day]
        yield LoggerDay(day, found.lows[day], found.highs[day], min(1.0, seconds / (high - low)))


def _speaks_s(moments_s: list[int]) -> float:
    """How long one value speaks for. Raises Refused where values are too far apart for a day's low and high."""
    gaps = [after - before for before, after in pairwise(moments_s)]
    usual_s = median(gaps) if gaps else 0
    if usual_s > SPEAKS_S_MAX:
        told = say(
            "Its values are {hours:.1f} hours apart; a day's lowest and highest need one every three hours. Bring lows"
            " and highs of whole days in with readings.csv."
        )
        raise Refused(told.filled(hours=usual_s / 3600))
    return max(usual_s, SPEAKS_S_MIN)


def _spans(moments_s: list[int], speaks_s: float, clock: Clock) -> Iterator[tuple[float, float, date]]:
    """Stretches of time that values speak for, (start, end, a day that they touch)."""
    start = end = None
    for at_s in [*moments_s, None]:
        if at_s is not None and end is not None and at_s - speaks_s / 2 <= end:
            end = at_s + speaks_s / 2
            continue
        if start is not None and end is not None:
            for day in _days_within(start, end, clock):
                yield start, end, day
        if at_s is not None:
            start, end = at_s - speaks_s / 2, at_s + speaks_s / 2


def _days_within(start_s: float, end_s: float, clock: Clock) -> Iterator[date]:
    day = clock.day_at(start_s)
    last = clock.day_at(end_s)
    while day <= last:
        yield day
        day += timedelta(days=1)
