"""Records of a small collection that grows by the book, sent through sync like a phone's."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from server.records.database import set_setting
from tests.support.collection import Phone

ZONE = ZoneInfo("Europe/Vienna")
FIRST = date(2024, 4, 1)


def at(day: date, hour: int = 9) -> str:
    return datetime.combine(day, time(hour), ZONE).isoformat()


def day(number: int) -> date:
    """So many days after the first."""
    return FIRST + timedelta(days=number)


def stored(phone: Phone, *changes: dict[str, Any]) -> None:
    outcomes = phone.send(*changes)
    assert {outcome.outcome for outcome in outcomes} == {"stored"}, outcomes


class Yard:
    """One place with even warmth, one fig variety, and trees that are seen every four days."""

    def __init__(self, mean_c: float = 18.0, latitude: float = 48.0) -> None:
        set_setting("time_zone", ZONE.key)
        self.phone = Phone()
        variety = self.phone.change("variety", variety="Lanternfoot", species="fig")
        place = self.phone.change("place", place="Long yard", cover="open", latitude=latitude)
        stored(self.phone, variety, place)
        self.variety, self.place = variety["record"], place["record"]
        self.read(self.place, mean_c)

    def read(self, place: str, mean_c: float, days: int = 100) -> None:
        """Readings whose every hour lies above a fig's 8 °C, so that a day's heat is the mean less 8."""
        stored(
            self.phone,
            *(
                self.phone.change(
                    "reading", place=place, date=day(n).isoformat(), t_min_c=mean_c - 3.0, t_max_c=mean_c + 3.0
                )
                for n in range(days)
            ),
        )

    def tree(self, **fields: Any) -> str:
        return self.phone.tree(**{"variety": self.variety, "place": self.place, **fields})

    def see(self, tree: str, number: int, **counts: Any) -> None:
        """One visit, so many days after the first."""
        stored(self.phone, self.phone.change("observation", tree=tree, seen_at=at(day(number)), **counts))

    def grow(self, tree: str, pace: float = 1.0, until: int = 60, shoots: int = 6, **at_last: Any) -> None:
        """Asleep, then in bud on day 4, then a leaf for every 45 degree-days, times `pace`."""
        self.see(tree, 0, bbch=1)
        self.see(tree, 4, bbch=9)
        for number in range(8, until + 1, 4):
            leaves = round(shoots * pace * 10.0 * (number - 4) / 45.0)
            more = at_last if number + 4 > until else {}
            self.see(tree, number, shoots=shoots, leaves=leaves, shoot_cm=round(2.5 * leaves / shoots, 1), **more)
