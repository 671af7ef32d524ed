"""The demonstration's calendar: whatever day it is, it stands for 14 June of a northern year; and its dice."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from server import ids

# The season is told in the dates of this year; only distances between its days matter.
STANDS_FOR = date(2026, 6, 14)
FIRST_DAY = (2, 20)
FORECAST_DAYS = 3
LATITUDE = 46.6


@dataclass(frozen=True, slots=True)
class Season:
    """Turns the story's dates into real ones: `today` is the day on which the story stands at 14 June."""

    today: date
    zone: ZoneInfo

    def on(self, month: int, day: int, years_before: int = 0) -> date:
        """The real date of a day of the story, or of a year before it."""
        return self.today + (date(STANDS_FOR.year - years_before, month, day) - STANDS_FOR)

    def story_day(self, day: date) -> int:
        """The day of the story's year (1 = 1 January) that a real date stands for."""
        return (STANDS_FOR + (day - self.today)).timetuple().tm_yday

    def at(self, day: date, minute: float) -> datetime:
        """A moment: so many minutes after midnight by the collection's clock, to the second."""
        clock = datetime.combine(day, time(0), self.zone)
        return clock + timedelta(seconds=round(minute * 60))

    @property
    def days(self) -> list[date]:
        """Every day that is told, the first to yesterday."""
        first = self.on(*FIRST_DAY)
        return [first + timedelta(days=n) for n in range((self.today - first).days)]

    @property
    def latitude(self) -> float:
        """North where today's light is a northern summer's (March to August), else south."""
        return LATITUDE if 3 <= self.today.month <= 8 else -LATITUDE


def dice(seed: int, *purpose: int) -> np.random.Generator:
    """A generator of its own for each purpose: a change in one part leaves the rest of the story as it was."""
    return np.random.default_rng([seed, *purpose])


class Identities:
    """Record ids, change ids and tag codes from seeded bits: the same seed gives the same ones."""

    def __init__(self, seed: int, *purpose: int) -> None:
        self._rng = dice(seed, *purpose)

    def record(self) -> str:
        """A UUID of version 4."""
        return str(uuid.UUID(bytes=self._rng.bytes(16), version=4))

    def tag(self) -> str:
        """A tag code with its check character, itself one that can't be misread."""
        while True:
            picked = self._rng.integers(0, len(ids.TAG_SYMBOLS), ids.TAG_CODE_LENGTH - 1)
            symbols = "".join(ids.TAG_SYMBOLS[int(each)] for each in picked)
            check = ids.check_character(symbols)
            if check in ids.TAG_SYMBOLS:
                return symbols + check
