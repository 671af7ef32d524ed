"""Which trees to shelter in the nights to come, by species, stage and pot, from temperatures that are forecast.

What harms which part is in the species' table with its source; the margins and what a pot keeps off are a grower's
settings. Temperatures in °C; valid for single nights, not for frost that lasts for weeks.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from server.analysis.species import GROWER, Figure, Species
from server.wording.said import Day, Said, capital, celsius, celsius_apart, litres, say

# How far a forecast low may stand above harm and still call for action or attention: forecasts of the low err by 1 to
# 2 °C, and on clear nights leaves and flowers are colder than the air around a thermometer. A grower's setting.
ACT_MARGIN_C = 1.0
WATCH_MARGIN_C = 3.0
FORECAST_DAYS_MAX = 16

# How much warmer than the air's low a pot's soil stays in one night, by its litres (below …): small pots follow the
# air; exposed plastic pots ran 4 °C colder minima than fabric in one trial, so that these are on the low side.
POT_BUFFER: tuple[tuple[float, Figure], ...] = (
    (20.0, Figure(1.0, "°C", GROWER)),
    (40.0, Figure(2.0, "°C", GROWER)),
    (float("inf"), Figure(3.0, "°C", GROWER)),
)
WATCH_OPEN = say("Keep a place under cover, or a fleece, ready for that night.")
WATCH_COVERED = say("Keep a fleece or some warmth ready for that night.")
_ASSUMED = {
    True: say("Its stage was not noted; it is taken to be in leaf."),
    False: say("Its stage was not noted; it is taken to be at rest."),
}
FROZEN_THROUGH_C = 0.0
"""After a day that stayed below this a pot has no warmth left to give its roots."""


@dataclass(frozen=True, slots=True)
class Night:
    """The night that follows a day: its low, °C, the highest of the day before it, and how far the low may be off."""

    on: date
    low_c: float
    high_before_c: float | None = None
    error_c: float = 0.0


@dataclass(frozen=True, slots=True)
class Standing:
    """A tree as the cold finds it: stage as noted (BBCH), whether it has leaves, its pot, and where it stands.

    `covered`: under glass, film or a roof, so that there is no shelter to carry it to but warmth.
    """

    tag: str
    species: Species
    stage: int | None
    in_leaf: bool
    pot_litres: float | None
    in_ground: bool
    place: str
    covered: bool = False


@dataclass(frozen=True, slots=True)
class ColdFinding:
    """One tree in danger: `night` is the worst, `low_c` what reaches its `part`, `harm_c` what harms it."""

    tag: str
    place: str
    level: str
    night: date
    part: str
    low_c: float
    harm_c: float
    ruinous: bool
    why: tuple[str, ...]
    advice: str


@dataclass(frozen=True, slots=True)
class _Danger:
    night: Night
    part: str
    reaches_c: float
    harm: Figure
    ruin: Figure | None

    @property
    def margin_c(self) -> float:
        return self.reaches_c - self.night.error_c - self.harm.value


def nights_ahead(on: date, readings: Iterable[tuple[date, float | None, float | None]]) -> list[Night]:
    """The nights from that of `on`, of one place's readings (date, lowest, highest), °C, in any order.

    A reading dated after `on` counts as forecast; a day's lowest is that of its morning, so the night of `on` takes
    tomorrow's. Readings more than FORECAST_DAYS_MAX ahead are left out.
    """
    known = {day: (low, high) for day, low, high in readings}
    ahead = sorted(day for day in known if 0 < (day - on).days <= FORECAST_DAYS_MAX)
    nights = []
    for day in ahead:
        low, evening = known[day][0], day - timedelta(days=1)
        if low is not None:
            nights.append(Night(evening, low, known.get(evening, (None, None))[1]))
    return nights


def cold_findings(trees: Iterable[Standing], nights: Mapping[str, Sequence[Night]], tonight: date) -> list[ColdFinding]:
    """The trees in danger, those to act on first; `nights` by place.

    act: the cold comes tonight and is within 1 °C of harm; watch: within 3 °C tonight, or within 1 °C on a later night.
    """
    found = [
        finding
        for tree in trees
        if (danger := _worst(tree, nights.get(tree.place, ()), tonight))
        and (finding := _finding(tree, danger, tonight))
    ]
    found.sort(key=lambda each: (each.level != "act", each.low_c - each.harm_c, each.tag))
    return found


def root_low_c(night: Night, pot_litres: float | None) -> float:
    """Lowest temperature in a pot's soil in a night, °C; a pot of unknown size counts as small."""
    if night.high_before_c is not None and night.high_before_c <= FROZEN_THROUGH_C:
        return night.low_c
    litres = pot_litres or 0.0
    return night.low_c + next(buffer.value for below, buffer in POT_BUFFER if litres < below)


def _worst(tree: Standing, nights: Sequence[Night], tonight: date) -> _Danger | None:
    """The danger that matters most: tonight's if it calls for action, else the nearest to harm."""
    dangers = [danger for night in nights if night.on >= tonight for danger in _dangers(tree, night)]
    urgent = [each for each in dangers if each.night.on == tonight and each.margin_c <= ACT_MARGIN_C]
    return min(urgent or dangers, key=lambda each: each.margin_c, default=None)


def _dangers(tree: Standing, night: Night) -> list[_Danger]:
    stage = tree.species.cold_at(tree.stage, tree.in_leaf)
    found = [_Danger(night, stage.part, night.low_c, stage.harm, stage.ruin)]
    if not tree.in_ground:
        found.append(_Danger(night, "roots", root_low_c(night, tree.pot_litres), tree.species.roots, None))
    return found


def _finding(tree: Standing, danger: _Danger, tonight: date) -> ColdFinding | None:
    is_tonight = danger.night.on == tonight
    if danger.margin_c > (WATCH_MARGIN_C if is_tonight else ACT_MARGIN_C):
        return None
    level = "act" if is_tonight and danger.margin_c <= ACT_MARGIN_C else "watch"
    ruinous = danger.ruin is not None and danger.reaches_c <= danger.ruin.value
    return ColdFinding(
        tag=tree.tag,
        place=tree.place,
        level=level,
        night=danger.night.on,
        part=danger.part,
        low_c=danger.reaches_c,
        harm_c=danger.harm.value,
        ruinous=ruinous,
        why=_why(tree, danger, is_tonight, ruinous),
        advice=_advice(tree, danger, level),
    )


def _why(tree: Standing, danger: _Danger, is_tonight: bool, ruinous: bool) -> tuple[str, ...]:
    why = [_forecast_words(danger.night, tree.place, is_tonight)]
    harm = celsius(danger.harm.value)
    source = say(" (a setting; no publication says)") if danger.harm.is_setting else ""
    if danger.part == "roots":
        pot = say("Its {pot:g} pot", pot=litres(tree.pot_litres)) if tree.pot_litres else say("Its pot")
        reach = say(
            "{pot} lets some {reaches:g} through to the roots; roots in pots are harmed from about {harm:g}{source}.",
            pot=pot,
            reaches=celsius(danger.reaches_c),
            harm=harm,
            source=source,
        )
        return (*why, reach)
    part = capital(danger.part)
    if tree.species.key != "general":
        part = say("{part} ({species})", part=part, species=tree.species.words)
    is_one = danger.part in ("wood", "young fruit", "new growth", "fruit")
    harmed = (
        say("{part} is harmed from about {harm:g}{source}.")
        if is_one
        else say("{part} are harmed from about {harm:g}{source}.")
    )
    why.append(harmed.filled(part=part, harm=harm, source=source))
    if ruinous:
        why.append(say("At that cold most of it is lost."))
    if tree.stage is None:
        why.append(_ASSUMED[tree.in_leaf])
    return tuple(why)


def _forecast_words(night: Night, place: str, is_tonight: bool) -> Said:
    give = (
        say(
            ", give or take {error:.0f} (from the forecast of another place)",
            error=celsius_apart(night.error_c),
        )
        if night.error_c
        else ""
    )
    told = (
        say("Tonight is forecast to fall to {low:g} in {place}{give}.")
        if is_tonight
        else say("The night of {on} is forecast to fall to {low:g} in {place}{give}.")
    )
    return told.filled(on=Day(night.on), low=celsius(night.low_c), place=place, give=give)


def _advice(tree: Standing, danger: _Danger, level: str) -> str:
    if level == "watch":
        return WATCH_COVERED if tree.covered else WATCH_OPEN
    if tree.in_ground:
        return say("Cover it down to the ground before dusk.")
    if tree.covered:
        return say("Close the vents before dusk, and wrap it or keep the place above that cold tonight.")
    if danger.part == "roots":
        return say("Bring it in tonight, or stand its pot on the ground against the others and wrap it.")
    return say("Carry it under cover before dusk, or cover it down to the ground.")
