"""Likely causes of a leaf drop, ranked with the evidence for each, and one thing to do.

Weights and reaches are common practice with no published source: shares of the evidence, no probabilities of a cause.
Temperatures in °C, light in percent of the open sky, reaches in days; valid for one drop of one tree at a time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from math import exp

from server.wording.said import Day, Said, capital, celsius, in_words, joined, say, say_count

# How much each kind of evidence counts beside UNKNOWN. Common practice, no published source.
UNKNOWN = 0.5
MOVE, MOVE_DAYS, MOVE_FADES_DAYS = 2.5, 21, 7.0
LIGHT_STEP = 2.0
"""A step from dark to open sky multiplies the move's weight by one plus this."""
LIGHT_STEP_BIG_PERCENT = 25.0
SECOND_MOVE, SECOND_MOVE_DAYS = 1.4, 14
COMPANIONS_MIN = 2
RECORDED = 2.5
DRY_POT = 2.0
REPOTTING, REPOTTING_DAYS = 2.2, 14
COLD_C, COLD, COLD_HARD_C, COLD_HARD = 3.0, 1.0, -1.0, 2.2
HEAT_C, HEAT, HEAT_HARD_C, HEAT_HARD = 35.0, 1.0, 39.0, 2.0
WEATHER_DAYS = 6
RECORDED_DAYS = 14
SEASON_FACTOR, SEASON = 1.8, 1.2
POTTED = {
    "pot_up": say("It was potted up on {on}."),
    "pot_down": say("It was potted down on {on}."),
    "root_prune": say("It was root-pruned on {on}."),
}
NOTED = {
    "pest": say("You noted a pest on {on}."),
    "disease": say("You noted a disease on {on}."),
    "wind": say("You noted wind on {on}."),
    "cold": say("You noted cold on {on}."),
    "heat": say("You noted heat on {on}."),
    "drought": say("You noted drought on {on}."),
    "sun": say("You noted sun on {on}."),
}
RECORDED_AS = {"pest": "pest", "disease": "disease", "wind": "wind", "cold": "cold", "heat": "heat"}
RECORDED_AS |= {"drought": "drought", "sun": "move"}

ADVICE = {
    "move": say("Move it back under shade for a week, then bring it out in steps."),
    "move_roots": say(
        "Slip it out of its pot and look at its roots: the others of that move are holding their leaves."
    ),
    "cold": say(
        "Shelter it on every night that may go near freezing, and prune nothing until it has leafed out again."
    ),
    "heat": say("Shade it at midday and water it in the morning until the heat is over."),
    "drought": say("Soak the pot today, and check it daily for a week."),
    "disease": say("Take off the marked leaves, keep them out of the compost, and keep its foliage dry."),
    "pest": say("Look under its leaves, wash off what you find, and stand it apart from the others."),
    "wind": say("Stand it out of the wind."),
    "repotting": say("Keep it in light shade and evenly moist, without feed, until new leaves open."),
    "season": say("Nothing to mend: count it again at the next round."),
    "unknown": say("Feel the soil, look under the leaves and at the roots, and note what you find."),
}


@dataclass(frozen=True)
class MoveEvent:
    """A move of this tree; light in percent of the open sky, None where unknown.

    `companions` were moved with it the same day and seen since; `companions_dropping` of them drop leaves.
    """

    on: date
    from_name: str | None
    to_name: str
    from_light_percent: float | None = None
    to_light_percent: float | None = None
    companions: int = 0
    companions_dropping: int = 0


@dataclass(frozen=True)
class Case:
    """All that is known about one drop: it began after `seen_whole_on` and by `first_seen_on`."""

    seen_whole_on: date
    first_seen_on: date
    moves: Sequence[MoveEvent] = ()
    works: Sequence[tuple[date, str]] = ()
    readings: Sequence[tuple[date, float | None, float | None]] = ()
    recorded: Sequence[tuple[date, str]] = ()
    soils: Sequence[tuple[date, str]] = ()
    common_factor: float = 1.0
    place_name: str | None = None


@dataclass(frozen=True)
class Cause:
    """A likely cause with its share of the evidence (all of a tree's add up to 1) and a sentence."""

    cause: str
    weight: float
    evidence: str


@dataclass(frozen=True)
class Verdict:
    """Causes, likeliest first, one piece of advice, and the move that is meant where one is."""

    causes: tuple[Cause, ...]
    advice: str
    move: MoveEvent | None = field(default=None)


def began_on(case: Case) -> date:
    """Likeliest day on which the drop began: in the middle of the gap, not before a move that fell into it."""
    start = case.seen_whole_on
    for move in case.moves:
        if start <= move.on <= case.first_seen_on:
            start = move.on
    return date.fromordinal((start.toordinal() + case.first_seen_on.toordinal() + 1) // 2)


def likely_causes(case: Case) -> Verdict:
    """Weigh every cause that left a trace before the drop and rank them."""
    began = began_on(case)
    move, move_weight, move_words = _move(case, began)
    found: dict[str, tuple[float, str]] = {"unknown": (UNKNOWN, say("Nothing on record explains it."))}
    if move is not None:
        found["move"] = (move_weight, move_words)
    for cause, weight, words in (
        *_weather(case, began),
        *_recorded(case, began),
        *_pot(case, began),
        *_season(case),
    ):
        before = found.get(cause)
        if before is None:
            found[cause] = (weight, words)
        else:
            found[cause] = (before[0] + 0.5 * weight, joined([before[1], words]))
    total = sum(weight for weight, _ in found.values())
    ranked = sorted(found.items(), key=lambda item: -item[1][0])
    causes = tuple(Cause(name, round(weight / total, 3), words) for name, (weight, words) in ranked)
    first = causes[0].cause
    if first == "move" and move is not None and _only_this_one(move):
        return Verdict(causes, ADVICE["move_roots"], move)
    return Verdict(causes, ADVICE[first], move)


def _only_this_one(move: MoveEvent) -> bool:
    return move.companions >= COMPANIONS_MIN and move.companions_dropping == 0


def _move(case: Case, began: date) -> tuple[MoveEvent | None, float, str]:
    """Weigh the latest move that came before the drop was first seen."""
    before = [m for m in case.moves if m.on <= case.first_seen_on and (began - m.on).days <= MOVE_DAYS]
    if not before:
        return None, 0.0, ""
    ordered = sorted(before, key=lambda m: m.on)
    move = ordered[-1]
    gap_days = max((began - move.on).days, 0)
    weight = MOVE * exp(-gap_days / MOVE_FADES_DAYS)
    words = [_moved_words(move, gap_days)]
    step = light_step_percent(move)
    if step is not None and step > 0:
        weight *= 1.0 + LIGHT_STEP * min(step, 100.0) / 100.0
    if step is not None and step >= LIGHT_STEP_BIG_PERCENT:
        light = {"before": move.from_light_percent, "after": move.to_light_percent}
        words.append(say("That was a step from {before:.0f} to {after:.0f} % of the light.", **light))
    if len(ordered) > 1 and (move.on - ordered[-2].on).days <= SECOND_MOVE_DAYS:
        weight *= SECOND_MOVE
        apart_days = max((move.on - ordered[-2].on).days, 1)
        second = say_count("It was the second move in a day.", "It was the second move in {count} days.", apart_days)
        words.append(second)
    if move.companions >= COMPANIONS_MIN:
        share = move.companions_dropping / move.companions
        weight *= 0.7 + 1.3 * share
        words.append(_companion_words(move))
    return move, weight, joined(words)


def _moved_words(move: MoveEvent, days: int) -> Said:
    to, on = move.to_name, Day(move.on)
    if days == 0:
        return say("Moved to {place} on {on}, the day it began.", place=to, on=on)
    return say_count(
        "Moved to {place} on {on}, one day before it began.",
        "Moved to {place} on {on}, {days} days before it began.",
        days,
        place=to,
        on=on,
        days=in_words(days),
    )


def light_step_percent(move: MoveEvent) -> float | None:
    """Light gained by a move, in percent of the open sky; None where a side is unknown."""
    if move.from_light_percent is None or move.to_light_percent is None:
        return None
    return move.to_light_percent - move.from_light_percent


def _companion_words(move: MoveEvent) -> Said:
    return say("{Companions}.", Companions=capital(companion_words(move)))


def companion_words(move: MoveEvent) -> Said:
    """How many of those moved that day drop leaves; there were companions."""
    moved = in_words(move.companions + 1)
    if move.companions_dropping == 0:
        return say("of {moved} moved that day only this one is dropping", moved=moved)
    dropping = in_words(move.companions_dropping + 1)
    return say("{dropping} of {moved} moved that day are dropping", dropping=dropping, moved=moved)


def _weather(case: Case, began: date) -> list[tuple[str, float, str]]:
    """Cold nights and hot days shortly before the drop, the hardest of each."""
    near = [r for r in case.readings if -WEATHER_DAYS <= (r[0] - began).days <= 1]
    found: list[tuple[str, float, str]] = []
    cold = min(((low, on) for on, low, _ in near if low is not None), default=None)
    if cold is not None and cold[0] <= COLD_C:
        weight = COLD_HARD if cold[0] <= COLD_HARD_C else COLD
        words = say("The night of {on} went down to {low:.0f}.", on=Day(cold[1]), low=celsius(cold[0]))
        found.append(("cold", weight, words))
    heat = max(((high, on) for on, _, high in near if high is not None), default=None)
    if heat is not None and heat[0] >= HEAT_C:
        weight = HEAT_HARD if heat[0] >= HEAT_HARD_C else HEAT
        found.append(("heat", weight, say("It reached {high:.0f} on {on}.", high=celsius(heat[0]), on=Day(heat[1]))))
    return found


def _recorded(case: Case, began: date) -> list[tuple[str, float, str]]:
    """What the grower noted on the tree about that time, each cause once."""
    found: dict[str, tuple[str, float, str]] = {}
    for on, noted in case.recorded:
        cause = RECORDED_AS.get(noted)
        if cause is not None and -RECORDED_DAYS <= (on - began).days <= RECORDED_DAYS:
            found[cause] = (cause, RECORDED, NOTED[noted].filled(on=Day(on)))
    return list(found.values())


def _pot(case: Case, began: date) -> list[tuple[str, float, str]]:
    """A dry pot, and work on the roots."""
    found: list[tuple[str, float, str]] = []
    dry = [on for on, soil in case.soils if soil == "dry" and -WEATHER_DAYS <= (on - began).days <= WEATHER_DAYS]
    if dry:
        found.append(("drought", DRY_POT, say("Its soil was dry on {on}.", on=Day(dry[-1]))))
    worked = [w for w in case.works if w[1] in POTTED and (case.first_seen_on - w[0]).days >= 0]
    worked = [w for w in worked if (began - w[0]).days <= REPOTTING_DAYS]
    if worked:
        on, task = worked[-1]
        found.append(("repotting", REPOTTING, POTTED[task].filled(on=Day(on))))
    return found


def _season(case: Case) -> list[tuple[str, float, str]]:
    """Leaf fall that its neighbours share."""
    if case.common_factor < SEASON_FACTOR:
        return []
    words = (
        say("The trees in {place} shed {times:.1f} times the usual; this one runs ahead of them.")
        if case.place_name
        else say("The trees around it shed {times:.1f} times the usual; this one runs ahead of them.")
    )
    return [("season", SEASON, words.filled(place=case.place_name, times=case.common_factor))]
