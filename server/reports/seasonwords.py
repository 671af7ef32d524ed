"""The sentences of the season's review: what a verdict rests on, in a grower's words."""

from __future__ import annotations

from dataclasses import dataclass

from server.analysis.season import KINDS_MIN, TREE_SEASONS_MIN, Verdict

POINTS_TOLD_MIN = 0.1
"""A measure that moves the score by less is no reason."""
# For a reason: words where it adds to the score, and where it takes from it.
REASONS = {
    "yield_g": ("It gives more than most", "It gives less than most"),
    "quality": ("Its fruit is better than most", "Its fruit is poorer than most"),
    "days_to_ripeness": ("It ripens earlier than most", "It ripens later than most"),
    "troubles": ("It has less trouble than most", "It has more trouble than most"),
    "care": ("It asks for less work than most", "It asks for more work than most"),
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
        return ["It is too early in the growing year for a verdict."]
    if place.of < KINDS_MIN:
        return ["There is no other variety or shelter of its species to compare it with."]
    if place.picked < TREE_SEASONS_MIN:
        return [_unpicked(place)]
    chance = min(max(round(100 * place.above_middle), 1), 99)
    half, sure = ("better", chance) if chance >= 50 else ("lesser", 100 - chance)
    words = [
        f"It ranks {span(place.low, place.high)} of {place.of}.",
        f"In {sure} of 100 cases it belongs to the {half} half ({place.picked} tree-seasons with a known yield).",
    ]
    for measure, points in sorted(place.points.items(), key=lambda part: -abs(part[1])):
        if abs(points) >= POINTS_TOLD_MIN:
            words.append(f"{REASONS[measure][int(points < 0)]}.")
    if verdict == "try again":
        words.append("That is not sure enough to keep it or to let it go.")
    return words


def _unpicked(place: Place) -> str:
    if place.picked:
        return "Its yield is known of one tree in one year only, which may have been lucky."
    seen = "the one tree-season" if place.tree_seasons == 1 else f"any of the {place.tree_seasons} tree-seasons"
    return f"Its yield is not known in {seen}: weigh what you pick."


def span(low: int, high: int) -> str:
    """Say a rank's interval: `between 2nd and 5th`, or `1st` where that is sure."""
    return ordinal(low) if low == high else f"between {ordinal(low)} and {ordinal(high)}"


def ordinal(number: int) -> str:
    """Say a number as a rank: 1st, 2nd, 3rd, 11th."""
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"
