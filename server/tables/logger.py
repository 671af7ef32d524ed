"""A logger's file as readings of a place: each day's lowest and highest, all or nothing, once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from server import ids
from server.errors import NotFound, Refused
from server.records.database import write
from server.records.queries import time_zone
from server.tables.cards import Cards, Stored, load_cards
from server.tables.columns import TABLES
from server.tables.facts import load_facts
from server.tables.importing import plan_facts
from server.tables.intake import Intake
from server.tables.logger_columns import Ask
from server.tables.logger_days import LoggerDay, LoggerDays, days_of
from server.tables.logger_table import decode, find_table
from server.tables.matching import CHANGED, NEW, UNCHANGED, WITHDRAWN
from server.tables.problems import Problems
from server.tables.rows import Row, fact_key
from server.wording.said import say

READINGS = TABLES["readings.csv"]
LEFT_OUT_TOLD_MAX = 20
THE_FILE = say("The file")


@dataclass(frozen=True, slots=True)
class LoggerSummary:
    """What came of a logger's file: readings by outcome, and the days left out with the share of each in percent.

    `span` names its changes, so that they can be taken back.
    """

    place: str
    column: str
    unit: str
    new: int
    changed: int
    unchanged: int
    withdrawn: int
    first: str | None
    last: str | None
    values: int
    without_value: int
    left_out: tuple[tuple[str, int], ...]
    span: str | None = None

    def document(self) -> dict[str, Any]:
        """It as plain values, ready for JSON."""
        told = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "left_out"}
        return told | {"left_out": [{"date": day, "covered_percent": share} for day, share in self.left_out]}

    def lines(self) -> list[str]:
        """It in words, a line each."""
        counts = f"{self.new} new, {self.changed} changed, {self.unchanged} unchanged"
        counts += f", {self.withdrawn} withdrawn before and left so" if self.withdrawn else ""
        lines = [
            f"{self.place}: {counts} (days from {self.first} to {self.last})",
            f"Read from {self.values} values of “{self.column}” in °{self.unit.upper()}.",
        ]
        if self.without_value:
            lines.append(f"Lines without a value: {self.without_value}")
        if self.left_out:
            shown = ", ".join(f"{day} ({share} %)" for day, share in self.left_out[:LEFT_OUT_TOLD_MAX])
            more = len(self.left_out) - LEFT_OUT_TOLD_MAX
            and_more = f" and {more} more" if more > 0 else ""
            lines.append(f"Left out, as less than two thirds of the day is covered: {shown}{and_more}")
        return lines


def import_logger(data: bytes, place: str, ask: Ask, name: str = THE_FILE) -> LoggerSummary:
    """Take a logger's file in as readings of a place (its id); the same file again adds nothing.

    A day that the values cover in full replaces what stood for it; one that they cover in part only widens it, as the
    other part may have been colder or warmer. Raises Refused with what to do, NotFound, TooLarge; nothing was changed
    then.
    """
    days = days_of(find_table(decode(data)), ask, time_zone(), ids.now_ms() // 1000, name)
    if not days.kept:
        told = say(
            "No day of the file is covered by two thirds ({days} days, {values} values); let the logger run for longer,"
            " and export again."
        )
        raise Refused(told.filled(days=len(days.left_out), values=days.values))
    with write():
        return _take_in(days, place, name)


def _take_in(days: LoggerDays, place: str, name: str) -> LoggerSummary:
    cards = load_cards()
    card = cards.stored["place"].get(place)
    if card is None or card.voided:
        raise NotFound(say("This place is not in the collection; choose one that is."))
    rows = _rows(days.kept, place, cards, name)
    groups = {fact_key(READINGS, row.values, cards): [row] for row in rows}
    steps = plan_facts(READINGS, groups, cards)
    problems = Problems()
    intake = Intake(cards, problems)
    intake.take(READINGS, steps)
    intake.finish()
    problems.refuse_if_any()
    outcomes = Counter(step.outcome for step in steps)
    return LoggerSummary(
        place=card.fields["place"],
        column=days.column,
        unit=days.unit,
        new=outcomes[NEW],
        changed=outcomes[CHANGED],
        unchanged=outcomes[UNCHANGED],
        withdrawn=outcomes[WITHDRAWN],
        first=days.kept[0].day.isoformat(),
        last=days.kept[-1].day.isoformat(),
        values=days.values,
        without_value=days.without_value,
        left_out=tuple((day.day.isoformat(), int(100 * day.covered)) for day in days.left_out),
        span=intake.span,
    )


def _rows(days: Sequence[LoggerDay], place: str, cards: Cards, name: str) -> list[Row]:
    """A row for each day as readings.csv would hold it, one that is covered in part widened to what stands for it."""
    rows = [Row(name, 0, _values(day, place)) for day in days]
    partly = [row for row, day in zip(rows, days, strict=True) if not day.in_full]
    stored: dict[date, list[Stored]] = {}
    for record in load_facts(READINGS, partly, cards):
        if not record.voided:
            stored.setdefault(date.fromisoformat(record.fields["date"]), []).append(record)
    for row in partly:
        for record in stored.get(date.fromisoformat(row.values["date"]), [])[:1]:
            low, high = record.fields["t_min_c"], record.fields["t_max_c"]
            row.values["t_min_c"] = min(row.values["t_min_c"], low) if low is not None else row.values["t_min_c"]
            row.values["t_max_c"] = max(row.values["t_max_c"], high) if high is not None else row.values["t_max_c"]
    return rows


def _values(day: LoggerDay, place: str) -> dict[str, Any]:
    return {"place": place, "date": day.day.isoformat(), "t_min_c": day.t_min_c, "t_max_c": day.t_max_c}
