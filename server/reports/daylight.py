"""Daily light in the collection's places, and the steps in light that moves between them mean."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from statistics import median

from server.analysis.hardening import Stand, stood_shaded
from server.analysis.light import INDOOR_COVERS, DailyLight, LightStep, light_step, place_light
from server.records.queries import PlaceRow
from server.reports.judge import light_percent
from server.reports.load import Collection
from server.wording.said import say

LATITUDE_ELSE = 45.0
"""Stands for a latitude that no place says; steps in light, as ratios, don't depend on it. A grower's setting."""


def daylight(collection: Collection, place: PlaceRow | None, on: date) -> DailyLight | None:
    """Daily light that reaches trees in a place around a day; None where neither cover nor percentage is known."""
    percent = light_percent(place)
    if place is None or percent is None:
        return None
    return _light(_latitude(collection, place), on.timetuple().tm_yday, percent)


def stand(collection: Collection, place: PlaceRow, on: date) -> Stand | None:
    """A place as the hardening plan takes it; None where its light is not known."""
    percent, light = light_percent(place), daylight(collection, place, on)
    return None if percent is None or light is None else Stand(place.place, place.cover, light.mol, percent)


def light_unknown(place: PlaceRow) -> str:
    """What to say, and to do, where a place's light is not known."""
    return say("The light in {place} is not known: give it a cover, or its light in percent.", place=place.place)


def step_between(
    collection: Collection, before: PlaceRow | None, after: PlaceRow | None, on: date, moved_days_ago: float | None
) -> LightStep | None:
    """What a move on a day means in light, `moved_days_ago` after the move before; None where a light is unknown."""
    old, new = daylight(collection, before, on), daylight(collection, after, on)
    if before is None or after is None or old is None or new is None:
        return None
    return light_step(
        old,
        new,
        shaded=stood_shaded(light_percent(before)),
        moved_days_ago=moved_days_ago,
        leaves_cover=before.cover in INDOOR_COVERS and after.cover not in INDOOR_COVERS,
    )


def _latitude(collection: Collection, place: PlaceRow) -> float:
    """A place's own latitude, else that of the others."""
    if place.latitude is not None:
        return place.latitude
    known = [each.latitude for each in collection.places.values() if each.latitude is not None]
    return median(known) if known else LATITUDE_ELSE


@lru_cache(maxsize=4096)
def _light(latitude: float, day: int, percent: float) -> DailyLight:
    return place_light(latitude, day, percent)
