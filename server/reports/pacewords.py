"""What is said of a tree's pace: what was seen, what was expected, how sure, or what to count."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import isnan

from server.analysis.causes import day_words


@dataclass(frozen=True)
class Stand:
    """One measure of one tree: what was counted last, on which day, and what trees like it would have (90 % band)."""

    seen: float | None
    low: float | None
    middle: float | None
    high: float | None
    on: str | None = None


@dataclass(frozen=True)
class Woken:
    """When a tree woke (None: not seen awake), whether that was noted, heat since, and when it was pruned.

    `guessed_days`: of the days since, those without a reading anywhere. `evergreen`: it counts from the year's start.
    """

    on: date | None
    noted: bool
    heat: float
    shaped_on: date | None
    guessed_days: int = 0
    evergreen: bool = False


def pace_words(woken: Woken, leaves: Stand, shoots: Stand, further_on: float) -> list[str]:
    """What was seen, what was expected, how sure; or what is missing. `further_on` NaN: nothing can be said."""
    if woken.on is None:
        return ["Not seen awake this season: note its stage or count its leaves."]
    if woken.shaped_on is not None:
        on = day_words(woken.shaped_on)
        return [f"It was pruned or pinched on {on}: its shoots are not held against others this season."]
    if isnan(further_on):
        return [_missing(leaves, shoots)]
    said = [_woke_words(woken, woken.on)]
    said += [words for words in (_leaf_words(leaves), _shoot_words(shoots)) if words]
    return [*said, _sure_words(further_on)]


def _woke_words(woken: Woken, on: date) -> str:
    """From when its heat counts, how much there was, and how much of that was guessed."""
    heat, day = f"{woken.heat:.0f} degree-days", day_words(on)
    if woken.evergreen:
        said = f"It has had {heat} since {day}."
    else:
        how = "It woke" if woken.noted else "It woke, as its kind did,"
        said = f"{how} about {day} and has had {heat} since."
    if not woken.guessed_days:
        return said
    return f"{said} No thermometer was read on {woken.guessed_days} of the days; common warmth stands in for them."


def _missing(leaves: Stand, shoots: Stand) -> str:
    if leaves.seen is None and shoots.seen is None:
        return "Growth was not counted: count the leaves of five shoots, or measure a typical shoot."
    if leaves.middle is None and shoots.middle is None:
        return "Too few trees like it were counted so far to say what to expect of it."
    return "Growth was not counted lately: count the leaves of five shoots, or measure a typical shoot."


def _leaf_words(stand: Stand) -> str | None:
    if stand.seen is None or stand.middle is None:
        return None
    return (
        f"It has made {stand.seen:.0f} leaves a shoot; trees like it have between {stand.low:.0f} and {stand.high:.0f}."
    )


def _shoot_words(stand: Stand) -> str | None:
    if stand.seen is None or stand.middle is None:
        return None
    return f"Shoots grew {stand.seen:.0f} cm; on trees like it between {stand.low:.0f} and {stand.high:.0f} cm."


def _sure_words(further_on: float) -> str:
    """How many of a hundred sound trees like it would stand further on."""
    hundred = round(100 * further_on)
    if hundred >= 99:
        return "Hardly one in a hundred sound trees like it would lag so far."
    if hundred <= 1:
        return "Hardly one in a hundred trees like it would be so far on."
    return f"Of a hundred trees like it, about {hundred} would be further on."
