"""Degree-days and chill of every place, from its readings and, where they have gaps, from its neighbours'."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import Any

import numpy as np

from server.analysis.degree_days import Counting, Cutoff, Method
from server.analysis.gaps import Filled, fill_gaps
from server.analysis.heat import (
    CHILL_START,
    CHILL_START_SOUTH,
    HEAT_START,
    HEAT_START_SOUTH,
    Heat,
    place_heat,
    season_start,
)
from server.analysis.sun import day_of_year, extraterrestrial_radiation
from server.analysis.water import WEEK_DAYS, week_of_water
from server.errors import Refused
from server.records import queries
from server.records.queries import PlaceRow
from server.reports.kinds import commonest_species
from server.reports.load import day_asked
from server.reports.readings import OPEN_AIR, Days, reading_table
from server.reports.shapes import Report, rounded

ANY_LATITUDE = 0.0
SOUTHERN = -1.0


@dataclass(frozen=True)
class HeatItem:
    """A place's heat and chill: degree-days in °C d since `from_`, chill since `chill_from`; None where not known.

    `days` count in the degree-days; `gaps` lack a full reading of the place's own: `filled` of them were filled from
    another place or the days around and do count, `missing` could not be. Likewise `chill_missing`. Warm weather takes
    from `chill_units`; `chill_units_peak` is the most that they came to. `water_week_cm`: what the open air took from a
    grass surface in the last seven days (FAO-56, Hargreaves); None under cover, where the air is another.
    """

    place: str
    id: str
    from_: str
    degree_days: float | None
    growing_degree_hours: float | None
    chill_from: str
    chill_units: float | None
    chill_units_peak: float | None
    chill_peak_on: str
    chill_hours: float | None
    days: int
    gaps: int
    filled: int
    missing: int
    chill_days: int
    chill_missing: int
    water_week_cm: float | None


@dataclass(frozen=True)
class HeatReport(Report):
    """The items, and the limits between which their degree-days were counted, and how."""

    species: str = ""
    base_c: float = 0.0
    upper_c: float | None = None
    method: Method = "single-sine"
    cutoff: Cutoff = "horizontal"

    def document(self) -> dict[str, Any]:
        """The report as plain values, ready for JSON."""
        told = {name: getattr(self, name) for name in ("species", "base_c", "upper_c", "method", "cutoff")}
        return super().document() | told


def heat(
    on: date | None = None,
    place: str | None = None,
    method: Method = "single-sine",
    cutoff: Cutoff = "horizontal",
) -> HeatReport:
    """Heat and chill of all places up to the end of `on` (None: today), or of the one with a name or id.

    Limits are those of the species that most trees of the collection are of, the same for all places so that they can
    be compared. `method` and `cutoff` say how degree-days are counted. Raises NotFound or Refused for a place that is
    not there or not one, a day out of reach, or a method without that cutoff.
    """
    counting = _counting(method, cutoff)
    on = day_asked(on)
    only = None if place is None else queries.place_called(place)
    places = queries.places()
    days, filled = temperatures(places, on)
    species = commonest_species()
    base_c, upper_c = species.get("base_c") or 0.0, species.get("upper_c")
    elsewhere = [each.latitude for each in places if each.latitude is not None]
    middle = median(elsewhere) if elsewhere else None
    items = [
        _item(
            each,
            place_heat(days, filled, row, base_c, upper_c, _latitude(each, middle), counting),
            _water_week_cm(each, _latitude(each, middle), days, filled, row),
        )
        for row, each in enumerate(places)
        if only is None or each.id == only
    ]
    return HeatReport(on, items, species=species.words, base_c=base_c, upper_c=upper_c, method=method, cutoff=cutoff)


def temperatures(places: list[PlaceRow], on: date) -> tuple[Days, Filled]:
    """Daily temperatures from the earliest season's start up to `on`, gaps filled; rows follow `places`."""
    starts = (
        season_start(on, latitude, *pair)
        for latitude in (ANY_LATITUDE, SOUTHERN)
        for pair in ((HEAT_START, HEAT_START_SOUTH), (CHILL_START, CHILL_START_SOUTH))
    )
    first = np.datetime64(min(starts), "D")
    days = np.arange(first, np.datetime64(on, "D") + 1)
    low, high = reading_table(queries.readings(on.isoformat()), [each.id for each in places], days)
    return days, fill_gaps(low, high)


def _counting(method: Method, cutoff: Cutoff) -> Counting:
    counting = Counting(method, cutoff)
    try:
        counting.daily([0.0], [1.0], 0.0, 2.0)
    except ValueError as error:
        raise Refused.of("cutoff", str(error)) from error
    return counting


def _latitude(place: PlaceRow, elsewhere: float | None) -> float | None:
    return place.latitude if place.latitude is not None else elsewhere


def _water_week_cm(place: PlaceRow, latitude: float | None, days: Days, filled: Filled, row: int) -> float | None:
    if latitude is None or place.cover not in OPEN_AIR:
        return None
    week = days[-WEEK_DAYS:]
    ra = extraterrestrial_radiation(day_of_year(week), latitude)
    known = filled.known[row, -WEEK_DAYS:]
    low, high = (np.where(known, each[row, -WEEK_DAYS:], np.nan) for each in (filled.t_min, filled.t_max))
    return rounded(week_of_water(ra, low, high) / 10.0, 1)


def _item(place: PlaceRow, found: Heat, water_week_cm: float | None) -> HeatItem:
    return HeatItem(
        place=place.place,
        id=place.id,
        from_=found.start.isoformat(),
        degree_days=rounded(found.degree_days, 1),
        growing_degree_hours=rounded(found.growing_degree_hours, 0),
        chill_from=found.chill_start.isoformat(),
        chill_units=rounded(found.chill_units, 1),
        chill_units_peak=rounded(found.chill_units_peak, 1),
        chill_peak_on=found.chill_peak_on.isoformat(),
        chill_hours=rounded(found.chill_hours, 0),
        days=found.days,
        gaps=found.gaps,
        filled=found.filled,
        missing=found.missing,
        chill_days=found.chill_days,
        chill_missing=found.chill_missing,
        water_week_cm=water_week_cm,
    )
