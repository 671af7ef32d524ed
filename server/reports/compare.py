"""What shelters and head starts change in each variety, in figures and sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np

from server.analysis.compare import HEAD_START, TREES_A_SIDE_MIN, Effects, compare
from server.reports.kinds import species_known
from server.reports.load import load
from server.reports.shapes import Report, as_json, rounded
from server.reports.tree_seasons import TreeYears, tree_years

# Measure: decimals in the figures, words for more and for less, unit with its space.
MEASURES = {
    "growth_cm": (1, "grows", "more", "less", " cm"),
    "leaves": (1, "carries", "more", "fewer", " leaves"),
    "fruit": (1, "carries", "more", "fewer", " fruits"),
    "yield_g": (0, "gives", "more", "less", " g"),
    "days_to_ripeness": (1, "ripens", "later", "earlier", " days"),
    "days_to_ripeness_breba": (1, "ripens its brebas", "later", "earlier", " days"),
}
SHELTER_WORDS = {
    "open": "in the open",
    "ground": "in the ground",
    "shade": "in the shade",
    "porch": "in a porch",
    "low_tunnel": "in a low tunnel",
    "polytunnel": "in a polytunnel",
    "glasshouse": "in a glasshouse",
    "indoors": "indoors",
}
COUNTED = (" leaves", " fruits")


@dataclass(frozen=True)
class CompareItem:
    """One measure of a variety under `shelter` less that under `against`, in the measure's unit.

    `difference` leans on the other varieties as far as they agree; `low` to `high` is its 90 % interval, None where
    nothing tells how much trees differ by chance; `seen` the plain difference of this variety's trees. `told`: more,
    less or unknown. `probability` that the true difference is above 0. `trees` on both sides, of them
    `trees_shelter` and `trees_against`. For a head start, the difference is that which `head_start_days` make.
    """

    variety: str | None
    species: str
    shelter: str
    against: str
    measure: str
    difference: float | None
    low: float | None
    high: float | None
    trees: int
    trees_shelter: int
    trees_against: int
    seen: float | None
    told: str
    probability: float | None
    head_start_days: int | None
    say: str


@dataclass(frozen=True)
class CompareReport(Report):
    """The comparisons by variety, and those of all varieties of a species taken together (`variety` None)."""

    overall: list[dict[str, Any]] = field(default_factory=list)

    def document(self) -> dict[str, Any]:
        """The report as plain values, with the species' own figures, and how many trees a side are asked for."""
        return {**super().document(), "overall": self.overall, "trees_a_side_min": TREES_A_SIDE_MIN}


def compare_shelters(on: date | None = None) -> CompareReport:
    """Compare shelters and head starts over all growing years up to the end of `on` (None: today), retired trees too.

    Trees of one species are compared among themselves; the rules are those of `tree_seasons.py`.
    """
    return compare_report(tree_years(load(on, include_retired=True)))


def compare_report(years: TreeYears) -> CompareReport:
    """Lay the comparisons out as items."""
    items: list[CompareItem] = []
    overall: list[dict[str, Any]] = []
    known = species_known()
    for number, species in enumerate(years.species):
        seasons = years.seasons.where(years.seasons.species == number)
        for measure in MEASURES:
            for effects in compare(seasons, measure):
                items += _items(years, effects, species)
                overall += _overall(effects, species, known[species].words)
    items.sort(key=lambda item: (item.variety or "", list(MEASURES).index(item.measure), item.shelter, item.against))
    return CompareReport(years.collection.on, items, overall=overall)


def _items(years: TreeYears, effects: Effects, species: str) -> Iterator[CompareItem]:
    pooled, digits = effects.pooled, MEASURES[effects.measure][0]
    for n, told in enumerate(effects.told()):
        variety = years.varieties[effects.variety[n]]
        figures = (
            [None] * 3 if pooled is None else [rounded(v[n], digits) for v in (pooled.mean, pooled.low, pooled.high)]
        )
        sides = (int(effects.trees[n, 0]), int(effects.trees[n, 1]))
        yield CompareItem(
            variety=variety,
            seen=rounded(effects.raw[n], digits),
            told=told,
            probability=None if pooled is None else rounded(pooled.positive[n], 3),
            say=sentence(variety, effects, figures, sides, told),
            **_shared(effects, species, figures, sides),
        )


def _overall(effects: Effects, species: str, words: str) -> Iterator[dict[str, Any]]:
    """What the varieties of a species have in common, where there are two or more of them."""
    pooled, digits = effects.pooled, MEASURES[effects.measure][0]
    if pooled is None or len(effects.variety) < 2:
        return
    figures = [rounded(v, digits) for v in (pooled.common_mean, pooled.common_low, pooled.common_high)]
    told = "more" if pooled.common_low > 0 else "less" if pooled.common_high < 0 else "unknown"
    sides = (int(effects.trees[:, 0].sum()), int(effects.trees[:, 1].sum()))
    varieties = len(effects.variety)
    item = CompareItem(
        variety=None,
        seen=rounded(float(np.mean(effects.raw)), digits),
        told=told,
        probability=rounded(pooled.common_positive, 3),
        say=sentence(f"{words.capitalize()} ({varieties} varieties together)", effects, figures, sides, told),
        **_shared(effects, species, figures, sides),
    )
    yield {**as_json(item), "species_words": words, "varieties": varieties}


def _shared(effects: Effects, species: str, figures: Sequence[float | None], sides: tuple[int, int]) -> dict[str, Any]:
    """What an item says in the same way of one variety and of all together."""
    return {
        "species": species,
        "shelter": effects.shelter,
        "against": effects.against,
        "measure": effects.measure,
        "difference": figures[0],
        "low": figures[1],
        "high": figures[2],
        "trees": sum(sides),
        "trees_shelter": sides[0],
        "trees_against": sides[1],
        "head_start_days": _days(effects),
    }


def _days(effects: Effects) -> int | None:
    return round(effects.days) if np.isfinite(effects.days) else None


def sentence(subject: str, effects: Effects, figures: Sequence[float | None], sides: tuple[int, int], told: str) -> str:
    """Say a difference, or plainly that it cannot be told yet, and why."""
    _, verb, more, less, unit = MEASURES[effects.measure]
    difference, low, high = figures
    trees = f"{sides[0]} {'tree' if sides[0] == 1 else 'trees'} against {sides[1]}"
    setting = _setting(effects)
    what = unit if unit in COUNTED else ""
    unsure = f"{subject}: can't tell yet whether it {verb} {more} or {less}{what} {setting}"
    if min(sides) < TREES_A_SIDE_MIN:
        return f"{unsure}: too few trees ({trees})."
    if difference is None or low is None or high is None:
        return f"{unsure}: the trees of each shelter were all alike, so nothing shows what is chance ({trees})."
    if told == "unknown":
        return f"{unsure}: anything {bounds_words(effects.measure, low, high)} would fit ({trees})."
    by = amount_words(effects.measure, difference)
    return f"{subject} {verb} {by} {setting} ({bounds_words(effects.measure, low, high)}; {trees})."


def amount_words(measure: str, value: float) -> str:
    """Say a difference in its measure: `12 cm more`, `60 fewer leaves`."""
    digits, _, more, less, unit = MEASURES[measure]
    number, word = _number(abs(value), digits), more if value > 0 else less
    return f"{number} {word}{unit}" if unit in COUNTED else f"{number}{unit} {word}"


def bounds_words(measure: str, low: float, high: float) -> str:
    """Say an interval: `between 8 and 15` on one side of nothing, `between 4 cm less and 7 cm more` across it."""
    digits, _, more, less, unit = MEASURES[measure]
    if low < 0 < high:
        unit = "" if unit in COUNTED else unit
        return f"between {_number(-low, digits)}{unit} {less} and {_number(high, digits)}{unit} {more}"
    near, far = sorted((abs(low), abs(high)))
    return f"between {_number(near, digits)} and {_number(far, digits)}"


def _number(value: float, digits: int) -> str:
    return f"{value:.0f}" if digits == 0 or value >= 10 else f"{value:.1f}"


def _setting(effects: Effects) -> str:
    if effects.shelter == HEAD_START:
        return f"with a head start of {effects.days:.0f} days than without"
    return f"{SHELTER_WORDS[effects.shelter]} than {SHELTER_WORDS[effects.against]}"
