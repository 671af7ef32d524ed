"""A day-by-day plan that brings a tree or a group out into the sun, through places that exist.

Extension services agree on 7 to 10 days, the first with 1 to 3 hours of sheltered sun on a mild day, and about an hour
more each day. Shade-grown beech began to recover from full light after 8 days and was nearly through at 30, so that
trees which stood shaded, or were moved lately, take twice as long here (common practice, no published figure).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from math import ceil

from server.analysis.light import INDOOR_COVERS, SHADED_PERCENT, days_ago
from server.wording.said import Said, celsius, say, say_count

FIRST_SUN_H, FIRST_SUN_TENDER_H = 2.0, 1.0
MORE_SUN_H, MORE_SUN_TENDER_H = 1.0, 0.5
FULL_SUN_H = 10.0
"""Hours of sun after which a tree may stay out all day."""
LATELY_DAYS = 14
MILD_MAX_C = 10.0
"""A day that stays below this is not mild: leaves gain nothing from the sun. Common practice, no published source."""
COLD_MARGIN_C = 2.0
"""Forecast lows err by about this much, and leaves on a clear night are colder than the air: a grower's setting."""
PLAN_DAYS_MAX = 60
_HALF_HOUR = 2.0
_SAME_LIGHT = 1.02


Weather = tuple[float, float]
"""Lowest of the night after a day, and highest of the day, °C."""


@dataclass(frozen=True)
class Stand:
    """A place that exists: name, cover, daily light around the days of the plan, mol m⁻² d⁻¹, and the days ahead."""

    name: str
    cover: str | None
    light_mol: float
    percent: float
    forecast: Mapping[date, Weather] = field(default_factory=dict, compare=False)

    @property
    def is_outdoors(self) -> bool:
        """Whether wind and the whole of sunlight reach it."""
        return self.cover not in INDOOR_COVERS


@dataclass(frozen=True)
class Traveller:
    """A tree, or the tenderest of so `many`: how it stood, and the air temperature that harms it, °C."""

    shaded: bool = False
    moved_days_ago: float | None = None
    harm_c: float = 0.0
    many: int = field(default=1, compare=False)

    @property
    def is_tender(self) -> bool:
        """Whether it must go slowly."""
        return self.shaded or (self.moved_days_ago is not None and self.moved_days_ago <= LATELY_DAYS)


@dataclass(frozen=True)
class PlanDay:
    """One day: stand in `place`, and for `sun_hours` of them in `sun_place` (None: no carrying); what to do, in words.

    `light_mol`: the day's light, mol m⁻² d⁻¹. `held`: the plan waits this day, for the cold; `cold_c` is then what is
    forecast: the low of its night where `cold_night`, else its highest.
    """

    on: date
    place: str
    sun_place: str | None
    sun_hours: float
    light_mol: float
    held: bool
    words: str
    cold_c: float | None = None
    cold_night: bool = False


@dataclass(frozen=True)
class Plan:
    """The days in order; `arrives_on`: the first day in the target for good, None where the limit came first."""

    days: tuple[PlanDay, ...]
    arrives_on: date | None
    why: tuple[str, ...]


def hardening_plan(
    start: Stand,
    target: Stand,
    between: Sequence[Stand],
    traveller: Traveller,
    first_day: date,
    forecast: Mapping[date, Weather] | None = None,
) -> Plan:
    """Plan the way from `start` to `target`, by way of the places `between` where they help.

    Each mild day allows a little more sun than the last. The tree spends the day in the brightest place outdoors whose
    light is within the day's allowance (at `start` where there is none), and the missing hours of sun in the target.
    `forecast`: days to come in the target, as Stand.forecast holds those of the places between; a day that is not mild
    in the target, or whose night comes within 2 °C of harm there or where the tree would stand, is spent at `start`
    and does not count. No plan is longer than PLAN_DAYS_MAX; days without a forecast are taken to be mild. Nothing to
    harden gives no days.
    """
    if target.light_mol <= start.light_mol * _SAME_LIGHT and (start.is_outdoors or not target.is_outdoors):
        return Plan(
            (),
            first_day,
            (say("{to} is no brighter than {place}: no hardening is needed.", to=target.name, place=start.name),),
        )
    first, more = (FIRST_SUN_TENDER_H, MORE_SUN_TENDER_H) if traveller.is_tender else (FIRST_SUN_H, MORE_SUN_H)
    ahead, elsewhere = forecast or {}, {stand.name: stand.forecast for stand in between}
    days: list[PlanDay] = []
    sun_h, on = first, first_day
    while sun_h < FULL_SUN_H and len(days) < PLAN_DAYS_MAX:
        mild = _mild_day(on, start, target, between, sun_h)
        held = _held_day(on, start, traveller, _colder(ahead.get(on), elsewhere.get(mild.place, {}).get(on)))
        days.append(held or mild)
        sun_h += 0.0 if held else more
        on += timedelta(days=1)
    # The last step is for good: it waits for a mild day too.
    while len(days) < PLAN_DAYS_MAX and (held := _held_day(on, start, traveller, ahead.get(on))):
        days.append(held)
        on += timedelta(days=1)
    why = (*_reasons(traveller), *_way(days, start, target))
    if len(days) >= PLAN_DAYS_MAX:
        too_cold = say("It stays too cold: ask again when milder weather is forecast.")
        return Plan(tuple(days), None, (*why, too_cold))
    last = PlanDay(
        on, target.name, None, 0.0, target.light_mol, False, say("Stand it in {place} for good.", place=target.name)
    )
    return Plan((*days, last), on, why)


def tenderest(travellers: Sequence[Traveller]) -> Traveller:
    """The one traveller to plan a group by: shaded or lately moved if any is, and as sensitive to cold as the most so.

    Raises ValueError for an empty group.
    """
    if not travellers:
        raise ValueError("a group needs at least one tree")
    moved = [each.moved_days_ago for each in travellers if each.moved_days_ago is not None]
    return Traveller(
        shaded=any(each.shaded for each in travellers),
        moved_days_ago=min(moved) if moved else None,
        harm_c=max(each.harm_c for each in travellers),
        many=sum(each.many for each in travellers),
    )


def stood_shaded(percent: float | None, by_neighbours: bool = False) -> bool:
    """Whether a tree counts as shaded: in a place with less than half the open light, or noted as crowded."""
    return by_neighbours or (percent is not None and percent < SHADED_PERCENT)


def _colder(target: Weather | None, place: Weather | None) -> Weather | None:
    """The day as it is in the target, with the colder night of the two places."""
    if target is None or place is None:
        return target or place
    return min(target[0], place[0]), target[1]


def is_too_cold(traveller: Traveller, weather: Weather) -> bool:
    """Whether a day is spent at the start: its night comes near harm, or it is not mild (lowest, highest, °C)."""
    low, high = weather
    return _night_harms(traveller, low) or high < MILD_MAX_C


def _night_harms(traveller: Traveller, low_c: float) -> bool:
    return low_c < traveller.harm_c + COLD_MARGIN_C


def _mild_day(on: date, start: Stand, target: Stand, between: Sequence[Stand], sun_h: float) -> PlanDay:
    """Stand in the brightest place within the day's allowance, and make up the rest in the target's sun."""
    share = sun_h / FULL_SUN_H
    allowed = start.light_mol + (target.light_mol - start.light_mol) * share
    within = [stand for stand in between if stand.is_outdoors and stand.light_mol <= allowed * _SAME_LIGHT]
    rest = max(within, key=lambda stand: stand.light_mol, default=start)
    # From under cover any place outdoors is a step towards wind; from outdoors, a darker one is a step back.
    place = rest if not start.is_outdoors or rest.light_mol >= start.light_mol else start
    gain = (target.light_mol - place.light_mol) / FULL_SUN_H
    needed = (allowed - place.light_mol) / gain if gain > 0.0 else 0.0
    # To the half hour below: a clock is easier to keep than a fraction, and less sun is the safe side.
    hours = min(sun_h, max(0.0, int(needed * _HALF_HOUR + 1e-9) / _HALF_HOUR))
    light = place.light_mol + hours * max(gain, 0.0)
    if not hours:
        return PlanDay(on, place.name, None, 0.0, light, False, say("Stand it in {place} all day.", place=place.name))
    words = say(
        "Stand it in {place}, and give it {hours} of morning sun in {sun}.",
        place=place.name,
        hours=_hours(hours),
        sun=target.name,
    )
    return PlanDay(on, place.name, target.name, hours, light, False, words)


def _held_day(on: date, start: Stand, traveller: Traveller, weather: Weather | None) -> PlanDay | None:
    """A day that does not count, for the cold; None for a mild one, or one without a forecast."""
    if weather is None or not is_too_cold(traveller, weather):
        return None
    low, high = weather
    by_night = _night_harms(traveller, low)
    cold_c = low if by_night else high
    told = (
        say("{cold:.0f} is forecast for the night. Keep it in {place}.")
        if by_night
        else say("No more than {cold:.0f} is forecast. Keep it in {place}.")
    )
    words = told.filled(cold=celsius(cold_c), place=start.name)
    return PlanDay(on, start.name, None, 0.0, start.light_mol, True, words, cold_c, by_night)


def _reasons(traveller: Traveller) -> tuple[str, ...]:
    """Why the plan goes at its pace."""
    why = []
    if traveller.shaded:
        why.append(
            say_count(
                "It stood shaded, and shade leaves burn first: it goes at half the pace.",
                "At least one of them stood shaded, and shade leaves burn first: all go at half the pace.",
                traveller.many,
            )
        )
    if traveller.moved_days_ago is not None and traveller.moved_days_ago <= LATELY_DAYS:
        why.append(
            say_count(
                "It was moved {ago}: it goes at half the pace.",
                "At least one of them was moved {ago}: all go at half the pace.",
                traveller.many,
                ago=days_ago(ceil(traveller.moved_days_ago)),
            )
        )
    if traveller.is_tender:
        return (*why, say("An hour of sun on the first day, and half an hour more each day."))
    return (say("The usual pace: 2 hours of sun on the first day, and an hour more each day."),)


def _way(days: Sequence[PlanDay], start: Stand, target: Stand) -> tuple[str, ...]:
    """What to say where no place on the way saves the carrying."""
    if any(day.place not in (start.name, target.name) for day in days) or not any(day.sun_place for day in days):
        return ()
    return (
        say(
            "No place outdoors lies between {place} and {to} in light, so each day means carrying out and back in. A"
            " place in half shade, under a tree or a net, would spare most of it.",
            place=start.name,
            to=target.name,
        ),
    )


def _hours(hours: float) -> Said:
    if hours == 0.5:
        return say("half an hour")
    return say("1 hour") if hours == 1.0 else say("{hours:g} hours", hours=hours)
