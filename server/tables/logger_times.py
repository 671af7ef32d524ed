"""A logger's times: which number of a date is the day, what the clock says, and when that was. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta, timezone
from functools import lru_cache, reduce
from zoneinfo import ZoneInfo

from server.errors import Refused, Unclear
from server.wording.said import say

ORDERS = ("dmy", "mdy", "ymd")
ORDER_WORDS = {
    "dmy": say("day, month, year"),
    "mdy": say("month, day, year"),
    "ymd": say("year, month, day"),
}
QUARTER_S = 900
"""No zone changes its clocks at any other moment than a quarter of an hour."""
_OFFSET_IN_NAME = re.compile(r"\b(?:UTC|GMT)(?: ?([+-])(\d{1,2})(?::?(\d\d))?)?", re.IGNORECASE | re.ASCII)
_CLOCK = re.compile(r"(\d{1,2}):(\d\d)(?::(\d\d))?(?:[.,]\d+)? ?(?:([AaPp])\.?[Mm]\.?)?", re.ASCII)


@lru_cache(maxsize=20_000)
def date_in(text: str, order: str) -> date | None:
    """The date that a text like 03/05/2026 means in an order; None where it means none. Years of two digits are 20…"""
    parts = re.split(r"[-/.]", text)
    if order == "ymd":
        year, month, day = parts
    elif order == "dmy":
        day, month, year = parts
    else:
        month, day, year = parts
    if len(year) not in (2, 4) or len(month) > 2 or len(day) > 2:
        return None
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return None


def read_order(texts: Iterable[tuple[str, int]], given: str | None) -> dict[str, date]:
    """The date of each text (with a line where it stands), in the one order that all of them allow.

    Raises Refused where two orders fit and mean different days, where none fits, or where the given one doesn't.
    """
    possible = [given] if given else list(ORDERS)
    listed = list(texts)
    for text, line in listed:
        left = [order for order in possible if date_in(text, order)]
        if not left:
            told = say("Line {line}: “{text}” is no date as {tried}; check it, or say --day-order.")
            raise Refused(told.filled(line=line, text=text, tried=_or([ORDER_WORDS[order] for order in possible])))
        possible = left
    for text, line in listed:
        if len({date_in(text, order) for order in possible}) > 1:
            told = say(
                "Line {line}: “{text}” could be {meanings}, and no date of the file decides; say which with --day-order"
                " {orders}."
            )
            meanings = _or([ORDER_WORDS[order] for order in possible])
            raise Unclear(
                "day_order",
                told.filled(line=line, text=text, meanings=meanings, orders=_or(possible)),
                tuple((order, str(date_in(text, order))) for order in possible),
            )
    return {text: found for text, _ in listed if (found := date_in(text, possible[0]))}


def _or(words: Sequence[str]) -> str:
    return reduce(lambda one, other: say("{one} or {other}", one=one, other=other), words)


@lru_cache(maxsize=100_000)
def clock_s(text: str) -> int | None:
    """Seconds since midnight of a clock's text, 24 hours or with am and pm; None where it is no time."""
    parts = _CLOCK.fullmatch(text)
    if parts is None:
        return None
    hour, minute, second, half = int(parts[1]), int(parts[2]), int(parts[3] or 0), (parts[4] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "p" else 0)
    if hour > 23 or minute > 59 or second > 60:
        return None
    return hour * 3600 + minute * 60 + min(second, 59)


def offset_in_name(name: str) -> timezone | None:
    """The offset that a column's name tells, such as “Time (GMT+02:00)” or “UTC time”."""
    found = _OFFSET_IN_NAME.search(name)
    return _offset(found[1], found[2], found[3]) if found else None


@lru_cache(maxsize=200)
def offset_of(text: str) -> timezone | None:
    """The offset behind a time: Z, UTC, GMT, +02:00 or +0200."""
    if text in ("Z", "UTC", "GMT"):
        return UTC
    return _offset(text[0], text[1:3], text[-2:])


def _offset(sign: str | None, hours: str | None, minutes: str | None) -> timezone | None:
    if sign is None:
        return UTC
    whole = timedelta(hours=int(hours or 0), minutes=int(minutes or 0))
    if whole >= timedelta(hours=24):
        return None
    return timezone(whole if sign == "+" else -whole)


@dataclass(slots=True)
class Clock:
    """Days and clock times to seconds since 1970 and to days in the collection's zone, remembered by the quarter."""

    zone: ZoneInfo
    offset: timezone | None = None
    _quarters: dict[tuple[date, int, timezone | None], tuple[int, date]] = field(default_factory=dict)

    def moment(self, day: date, second: int, offset: timezone | None) -> tuple[int, date]:
        """Seconds since 1970, and the day in the collection's zone; a time without offset is the zone's own.

        Raises ValueError or OverflowError for a day at the calendar's end.
        """
        offset = offset or self.offset
        key = (day, second // QUARTER_S, offset)
        if key not in self._quarters:
            quarter = datetime(day.year, day.month, day.day) + timedelta(seconds=key[1] * QUARTER_S)  # noqa: DTZ001 the zone follows
            there = quarter.replace(tzinfo=offset or self.zone)
            local = there.astimezone(self.zone).date() if offset else day
            self._quarters[key] = (int(there.timestamp()), local)
        start_s, local = self._quarters[key]
        return start_s + second % QUARTER_S, local

    def day_at(self, at_s: float) -> date:
        """The day of a moment in the collection's zone."""
        return datetime.fromtimestamp(at_s, self.zone).date()

    def day_bounds_s(self, day: date) -> tuple[int, int]:
        """A day's beginning and end in the zone: 23 to 25 hours apart."""
        start = datetime(day.year, day.month, day.day, tzinfo=self.zone)
        after = day + timedelta(days=1)
        end = datetime(after.year, after.month, after.day, tzinfo=self.zone)
        return int(start.timestamp()), int(end.timestamp())
