"""What is said of a tree's pace: what was seen, what was expected, how sure, or what to count."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import isnan

from server.wording.said import Day, Said, celsius_apart, cm, joined, say, say_count


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
        return [say("Not seen awake this season: note its stage or count its leaves.")]
    if woken.shaped_on is not None:
        shaped = say("It was pruned or pinched on {on}: its shoots are not held against others this season.")
        return [shaped.filled(on=Day(woken.shaped_on))]
    if isnan(further_on):
        return [_missing(leaves, shoots)]
    said: list[str] = [_woke_words(woken, woken.on)]
    said += [words for words in (_leaf_words(leaves), _shoot_words(shoots)) if words]
    return [*said, _sure_words(further_on)]


def _woke_words(woken: Woken, on: date) -> Said:
    """From when its heat counts, how much there was, and how much of that was guessed."""
    if woken.evergreen:
        said = say("It has had {heat.bare:.0f} degree-days since {on}.")
    elif woken.noted:
        said = say("It woke about {on} and has had {heat.bare:.0f} degree-days since.")
    else:
        said = say("It woke, as its kind did, about {on} and has had {heat.bare:.0f} degree-days since.")
    told = said.filled(heat=celsius_apart(woken.heat), on=Day(on))
    if not woken.guessed_days:
        return told
    guessed = say_count(
        "No thermometer was read on one of the days; common warmth stands in for it.",
        "No thermometer was read on {count} of the days; common warmth stands in for them.",
        woken.guessed_days,
    )
    return joined([told, guessed])


def _missing(leaves: Stand, shoots: Stand) -> str:
    if leaves.seen is None and shoots.seen is None:
        return say("Growth was not counted: count the leaves of five shoots, or measure a typical shoot.")
    if leaves.middle is None and shoots.middle is None:
        return say("Too few trees like it were counted so far to say what to expect of it.")
    return say("Growth was not counted lately: count the leaves of five shoots, or measure a typical shoot.")


def _leaf_words(stand: Stand) -> str | None:
    if stand.seen is None or stand.middle is None:
        return None
    made = say("It has made {seen:.0f} leaves a shoot; trees like it have between {low:.0f} and {high:.0f}.")
    return made.filled(seen=stand.seen, low=stand.low, high=stand.high)


def _shoot_words(stand: Stand) -> str | None:
    if stand.seen is None or stand.low is None or stand.high is None:
        return None
    grew = say("Shoots grew {seen:.0f}; on trees like it between {low.bare:.0f} and {high:.0f}.")
    return grew.filled(seen=cm(stand.seen), low=cm(stand.low), high=cm(stand.high))


def _sure_words(further_on: float) -> str:
    """How many of a hundred sound trees like it would stand further on."""
    hundred = round(100 * further_on)
    if hundred >= 99:
        return say("Hardly one in a hundred sound trees like it would lag so far.")
    if hundred <= 1:
        return say("Hardly one in a hundred trees like it would be so far on.")
    return say("Of a hundred trees like it, about {hundred} would be further on.", hundred=hundred)
