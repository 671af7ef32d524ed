"""What shelters and head starts change in each variety, in figures and sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, NamedTuple

import numpy as np

from server.analysis.compare import HEAD_START, TREES_A_SIDE_MIN, Effects, compare
from server.reports.kinds import species_known
from server.reports.load import load
from server.reports.shapes import Report, as_json, rounded
from server.reports.tree_seasons import TreeYears, tree_years
from server.wording.said import Amount, Figure, Said, capital, cm, say, say_count


class Measure(NamedTuple):
    """How differences of a measure are told.

    `decimals` in the figures; what a tree does (`verb`), what can't be told yet (`either`), a difference up (`more`)
    and down (`less`) of an `amount`; and the `unit` of its axis.
    """

    decimals: int
    verb: Said
    either: Said
    more: Said
    less: Said
    unit: str


_MORE, _LESS = say("{amount} more"), say("{amount} less")
_LATER, _EARLIER = say("{amount} days later"), say("{amount} days earlier")
MEASURES = {
    "growth_cm": Measure(1, say("grows"), say("grows more or less"), _MORE, _LESS, "cm"),
    "leaves": Measure(
        *(1, say("carries"), say("carries more or fewer leaves")),
        *(say("{amount} more leaves"), say("{amount} fewer leaves"), say("leaves")),
    ),
    "fruit": Measure(
        *(1, say("carries"), say("carries more or fewer fruits")),
        *(say("{amount} more fruits"), say("{amount} fewer fruits"), say("fruits")),
    ),
    "yield_g": Measure(0, say("gives"), say("gives more or less"), _MORE, _LESS, "g"),
    "days_to_ripeness": Measure(1, say("ripens"), say("ripens later or earlier"), _LATER, _EARLIER, say("days")),
    "days_to_ripeness_breba": Measure(
        *(1, say("ripens its brebas"), say("ripens its brebas later or earlier")),
        *(_LATER, _EARLIER, say("days")),
    ),
}
SHELTER_WORDS = {
    "open": say("in the open"),
    "ground": say("in the ground"),
    "shade": say("in the shade"),
    "porch": say("in a porch"),
    "low_tunnel": say("in a low tunnel"),
    "polytunnel": say("in a polytunnel"),
    "glasshouse": say("in a glasshouse"),
    "indoors": say("indoors"),
}


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
    pooled, digits = effects.pooled, MEASURES[effects.measure].decimals
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
    pooled, digits = effects.pooled, MEASURES[effects.measure].decimals
    if pooled is None or len(effects.variety) < 2:
        return
    figures = [rounded(v, digits) for v in (pooled.common_mean, pooled.common_low, pooled.common_high)]
    told = "more" if pooled.common_low > 0 else "less" if pooled.common_high < 0 else "unknown"
    sides = (int(effects.trees[:, 0].sum()), int(effects.trees[:, 1].sum()))
    varieties = len(effects.variety)
    together = say("{species} ({varieties} varieties together)", species=capital(words), varieties=varieties)
    item = CompareItem(
        variety=None,
        seen=rounded(float(np.mean(effects.raw)), digits),
        told=told,
        probability=rounded(pooled.common_positive, 3),
        say=sentence(together, effects, figures, sides, told),
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


def sentence(
    subject: str, effects: Effects, figures: Sequence[float | None], sides: tuple[int, int], told: str
) -> Said:
    """Say a difference, or plainly that it cannot be told yet, and why."""
    measure = MEASURES[effects.measure]
    difference, low, high = figures
    known = {"subject": subject, "setting": _setting(effects), "trees": sides_words(sides), "either": measure.either}
    if min(sides) < TREES_A_SIDE_MIN:
        return say("{subject}: can't tell yet whether it {either} {setting}: too few trees ({trees}).", **known)
    if difference is None or low is None or high is None:
        return say(
            "{subject}: can't tell yet whether it {either} {setting}: the trees of each shelter were all alike, so"
            " nothing shows what is chance ({trees}).",
            **known,
        )
    known["bounds"] = bounds_words(effects.measure, low, high)
    if told == "unknown":
        return say(
            "{subject}: can't tell yet whether it {either} {setting}: anything {bounds} would fit ({trees}).", **known
        )
    known |= {"verb": measure.verb, "by": amount_words(effects.measure, difference)}
    return say("{subject} {verb} {by} {setting} ({bounds}; {trees}).", **known)


def sides_words(sides: tuple[int, int]) -> Said:
    """Say how many trees stand against how many."""
    return say_count("{count} tree against {others}", "{count} trees against {others}", sides[0], others=sides[1])


def amount_words(measure: str, value: float) -> Said:
    """Say a difference in its measure: `12 cm more`, `60 fewer leaves`."""
    told = MEASURES[measure]
    return (told.more if value > 0 else told.less).filled(amount=_amount(measure, abs(value)))


def bounds_words(measure: str, low: float, high: float) -> Said:
    """Say an interval: `between 8 and 15` on one side of nothing, `between 4 cm less and 7 cm more` across it."""
    if low < 0 < high:
        down, up = amount_words(measure, low), amount_words(measure, high)
        return say("between {low} and {high}", low=down, high=up)
    near, far = (_number(measure, size) for size in sorted((abs(low), abs(high))))
    if isinstance(near, Amount):
        return say("between {low.bare} and {high.bare}", low=near, high=far)
    return say("between {low} and {high}", low=near, high=far)


def _amount(measure: str, value: float) -> Amount | Figure | Said:
    """A size in its measure, with its unit where no word says it."""
    number = _number(measure, value)
    return say("{number} g", number=number) if measure == "yield_g" else number


def _number(measure: str, value: float) -> Amount | Figure:
    spec = ".0f" if MEASURES[measure].decimals == 0 or value >= 10 else ".1f"
    return replace(cm(value), spec=spec) if measure == "growth_cm" else Figure(value, spec)


def _setting(effects: Effects) -> Said:
    if effects.shelter == HEAD_START:
        return say("with a head start of {days:.0f} days than without", days=effects.days)
    return say(
        "{shelter} than {against}", shelter=SHELTER_WORDS[effects.shelter], against=SHELTER_WORDS[effects.against]
    )
