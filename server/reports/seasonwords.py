"""The sentences of the season's review: what a verdict rests on, in a grower's words."""

from __future__ import annotations

from dataclasses import dataclass

from server.analysis.season import KINDS_MIN, TREE_SEASONS_MIN, Verdict
from server.wording.said import Said, say, say_count

POINTS_TOLD_MIN = 0.1
"""A measure that moves the score by less is no reason."""
# For a reason: words where it adds to the score, and where it takes from it.
REASONS = {
    "yield_g": (say("It gives more than most."), say("It gives less than most.")),
    "quality": (say("Its fruit is better than most."), say("Its fruit is poorer than most.")),
    "days_to_ripeness": (say("It ripens earlier than most."), say("It ripens later than most.")),
    "troubles": (say("It has less trouble than most."), say("It has more trouble than most.")),
    "care": (say("It asks for less work than most."), say("It asks for more work than most.")),
}


@dataclass(frozen=True)
class Place:
    """Where a kind stands: its rank of `of` and that rank's interval, and what each measure adds to its score.

    `above_middle` the probability that it belongs to the better half; `tree_seasons` seen, `picked` with a known yield.
    """

    rank: int
    low: int
    high: int
    of: int
    above_middle: float
    tree_seasons: int
    picked: int
    points: dict[str, float]


def reasons(place: Place, verdict: Verdict, early: bool) -> list[str]:
    """What the verdict rests on: why none can be given, or the rank, how sure it is, and the measures that tell."""
    if early:
        return [say("It is too early in the growing year for a verdict.")]
    if place.of < KINDS_MIN:
        return [say("There is no other variety or shelter of its species to compare it with.")]
    if place.picked < TREE_SEASONS_MIN:
        return [_unpicked(place)]
    chance = min(max(round(100 * place.above_middle), 1), 99)
    better = say("In {sure} of 100 cases it belongs to the better half ({seasons} tree-seasons with a known yield).")
    lesser = say("In {sure} of 100 cases it belongs to the lesser half ({seasons} tree-seasons with a known yield).")
    half, sure = (better, chance) if chance >= 50 else (lesser, 100 - chance)
    words: list[str] = [_ranks(place), half.filled(sure=sure, seasons=place.picked)]
    for measure, points in sorted(place.points.items(), key=lambda part: -abs(part[1])):
        if abs(points) >= POINTS_TOLD_MIN:
            words.append(REASONS[measure][int(points < 0)])
    if verdict == "try again":
        words.append(say("That is not sure enough to keep it or to let it go."))
    return words


def _unpicked(place: Place) -> Said:
    if place.picked:
        return say("Its yield is known of one tree in one year only, which may have been lucky.")
    return say_count(
        "Its yield is not known in the one tree-season: weigh what you pick.",
        "Its yield is not known in any of the {count} tree-seasons: weigh what you pick.",
        place.tree_seasons,
    )


def _ranks(place: Place) -> Said:
    """Say a rank and its interval."""
    if place.low == place.high:
        return say("It ranks {rank} of {of}.", rank=ordinal(place.low), of=place.of)
    low, high = ordinal(place.low), ordinal(place.high)
    return say("It ranks between {low} and {high} of {of}.", low=low, high=high, of=place.of)


def ordinal(number: int) -> Said:
    """Say a number as a rank: 1st, 2nd, 3rd, 11th."""
    if number % 100 in (11, 12, 13):
        return say("{number}th", number=number)
    endings = {1: say("{number}st"), 2: say("{number}nd"), 3: say("{number}rd")}
    return endings.get(number % 10, say("{number}th")).filled(number=number)
