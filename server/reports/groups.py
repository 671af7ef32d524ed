"""Any two groups of trees on any measure: the figures, and a sentence that says what can and what can't be said."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.analysis.tree_seasons import SHELTERS, UNKNOWN, TreeSeasons
from server.analysis.twogroups import Gap, by_tree, gap, without_years
from server.errors import Refused
from server.reports.compare import MEASURES, SHELTER_WORDS, amount_words, bounds_words, sides_words
from server.reports.kinds import species_known
from server.reports.load import DAY_S, load
from server.reports.tree_seasons import TreeYears, tree_years
from server.reports.waking import year_start
from server.wording.said import capital, litres, say

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

POTS_UP_TO_LITRES = (10.0, 20.0, 35.0, 60.0)
"""Classes of pots; common practice, no published source."""
HEAD_START_DAYS_MIN = 7.0
BY = ("variety", "shelter", "pot", "year", "head_start")
DOTS_MAX = 400


@dataclass(frozen=True)
class Group:
    """One group that can be chosen: its value, its words, and how many trees it has."""

    value: str
    words: str
    trees: int


@dataclass(frozen=True)
class Asked:
    """What is to be held against what: a measure, and two groups of one kind, among the trees of one species."""

    measure: str = "growth_cm"
    by: str = "variety"
    first: str | None = None
    second: str | None = None
    species: str | None = None


@dataclass(frozen=True)
class GroupReport:
    """Two groups compared, and what else could be: `groups` by kind, `dots` each tree's value on either side."""

    on: date
    asked: Asked
    species: list[dict[str, str]]
    groups: dict[str, list[Group]]
    gap: Gap | None
    dots: tuple[list[dict[str, Any]], list[dict[str, Any]]]
    say: str
    limits: list[str]

    def document(self) -> dict[str, Any]:
        """As plain values, ready for JSON."""
        found = None if self.gap is None else {**asdict(self.gap), "told": self.gap.told}
        if found is not None and not np.isfinite(found["df"]):
            found["df"] = None
        return {
            "on": self.on.isoformat(),
            "items": [] if found is None else [found],
            "asked": asdict(self.asked),
            "species": self.species,
            "measures": list(MEASURES),
            "groups": {by: [asdict(group) for group in found] for by, found in self.groups.items()},
            "dots": list(self.dots),
            "say": self.say,
            "limits": self.limits,
        }


def group_report(asked: Asked, on: date | None = None) -> GroupReport:
    """Compare two groups over all growing years up to the end of `on` (None: today), retired trees too.

    Where a group is not named, the two with most trees are taken. Raises Refused for an unknown measure, kind, species
    or group.
    """
    if asked.measure not in MEASURES:
        raise Refused.of("measure", say("There are these measures: {known}.", known=", ".join(MEASURES)))
    if asked.by not in BY:
        raise Refused.of("by", say("Groups are made by one of: {known}.", known=", ".join(BY)))
    years = tree_years(load(on, include_retired=True))
    counts = np.bincount(years.seasons.species, minlength=len(years.species)) if years.species else np.zeros(0)
    words = species_known()
    species = [{"value": years.species[n], "words": words[years.species[n]].words} for n in np.argsort(-counts)]
    chosen = asked.species or (species[0]["value"] if species else None)
    if chosen is not None and chosen not in years.species:
        raise Refused.of("species", say("There are these species: {known}.", known=", ".join(years.species)))
    mine = years.seasons.species == (years.species.index(chosen) if chosen else -1)
    seasons = years.seasons.where(mine)
    value = seasons.values[asked.measure]
    members = {by: _members(years, seasons, by) for by in BY}
    groups = {by: _groups(names, seasons, np.isfinite(value)) for by, names in members.items()}
    asked = _chosen(asked, chosen, groups[asked.by])
    if asked.by != "year":
        value = without_years(value, seasons.year)
    sides = [members[asked.by][1] == _code(members[asked.by], name) for name in (asked.first, asked.second)]
    first, second = (by_tree(seasons.tree[side], value[side]) for side in sides)
    found = gap(first, second)
    told = {group.value: group.words for group in groups[asked.by]}
    names = (told.get(asked.first or "", ""), told.get(asked.second or "", ""))
    tags = [tree.tag for tree in years.collection.trees]
    dots = tuple(
        [{"tag": tags[tree], "value": round(value, 2)} for tree, value in list(side.items())[:DOTS_MAX]]
        for side in (first, second)
    )
    limits = [] if found is None else _limits(found, asked, seasons, sides)
    return GroupReport(
        years.collection.on, asked, species, groups, found, (dots[0], dots[1]), _say(found, asked, names), limits
    )


Members = tuple[list[tuple[str, str]], Ints]
"""The groups of a kind as (value, words), and the number of each entry's group, −1 where it has none."""


def _members(years: TreeYears, seasons: TreeSeasons, by: str) -> Members:
    if by == "variety":
        return [(name, name) for name in years.varieties], seasons.variety
    if by == "shelter":
        return [(name, SHELTER_WORDS[name]) for name in SHELTERS], np.where(
            seasons.shelter == UNKNOWN, -1, seasons.shelter
        )
    if by == "year":
        named, at = np.unique(seasons.year, return_inverse=True)
        return [(str(year), str(year)) for year in named], at.astype(np.int64)
    if by == "head_start":
        known = np.isfinite(seasons.head_start_days)
        some = (np.nan_to_num(seasons.head_start_days) >= HEAD_START_DAYS_MIN).astype(np.int64)
        return [("none", say("without a head start")), ("some", say("with a head start"))], np.where(known, some, -1)
    return _pots(years, seasons)


def _pots(years: TreeYears, seasons: TreeSeasons) -> Members:
    """By the pot in which a tree stood in the middle of its growing year."""
    middle_s = (year_start(seasons.year, years.south) + 182.0) * DAY_S
    pot = np.full(len(seasons.tree), np.nan)
    for at, row in enumerate(seasons.tree):
        tree = years.collection.trees[row]
        potted = [
            work.amount
            for work in years.collection.works.get(tree.id, [])
            if work.task in ("pot_up", "pot_down") and work.amount and work.at_s <= middle_s[at]
        ]
        stands = potted[-1] if potted else tree.pot_litres
        pot[at] = np.nan if stands is None else stands
    edges = (0.0, *POTS_UP_TO_LITRES)
    named: list[tuple[str, str]] = [
        (f"{low:g}-{high:g}", say("in {low.bare:g} to {high:g}", low=litres(low), high=litres(high)))
        for low, high in pairwise(edges)
    ]
    named.append((f"{edges[-1]:g}-", say("in more than {low:g}", low=litres(edges[-1]))))
    return named, np.where(np.isfinite(pot), np.searchsorted(POTS_UP_TO_LITRES, np.nan_to_num(pot)), -1)


def _groups(members: Members, seasons: TreeSeasons, known: Bools) -> list[Group]:
    """The groups in which the measure is known of any tree, those of most trees first."""
    named, at = members
    trees = [len(np.unique(seasons.tree[(at == number) & known])) for number in range(len(named))]
    found = [Group(value, words, count) for (value, words), count in zip(named, trees, strict=True) if count]
    return sorted(found, key=lambda group: (-group.trees, group.value))


def _chosen(asked: Asked, species: str | None, groups: list[Group]) -> Asked:
    values = [group.value for group in groups]
    for field, value in (("a", asked.first), ("b", asked.second)):
        if value is not None and value not in values:
            told = say("No tree of this species has that; there are: {known}.")
            raise Refused.of(field, told.filled(known=", ".join(values) or say("none")))
    first = asked.first or next((value for value in values if value != asked.second), None)
    second = asked.second or next((value for value in values if value != first), None)
    return Asked(asked.measure, asked.by, first, second, species)


def _code(members: Members, value: str | None) -> int:
    return next((number for number, (name, _) in enumerate(members[0]) if name == value), -2)


def _say(found: Gap | None, asked: Asked, names: tuple[str, str]) -> str:
    if found is None:
        return say("There are not two groups yet of which this was measured.")
    measure = MEASURES[asked.measure]
    known = {
        "who": _as_subject(asked.by, names[0]),
        "whom": _as_object(asked.by, names[1]),
        "either": measure.either,
        "trees": sides_words(found.trees),
    }
    if found.low is None or found.high is None:
        return say("Can't tell whether {who} {either} than {whom}: too few trees, or all alike ({trees}).", **known)
    known["bounds"] = bounds_words(asked.measure, found.low, found.high)
    if found.told == "unknown":
        return say("Can't tell yet whether {who} {either} than {whom}: anything {bounds} would fit ({trees}).", **known)
    known |= {"verb": measure.verb, "by": amount_words(asked.measure, found.difference)}
    return capital(say("{who} {verb} {by} than {whom} ({bounds}; {trees}).", **known))


def _as_subject(by: str, words: str) -> str:
    if by == "variety":
        return words
    return say("a tree in {year}", year=words) if by == "year" else say("a tree {where}", where=words)


def _as_object(by: str, words: str) -> str:
    if by == "variety":
        return words
    return say("in {year}", year=words) if by == "year" else say("one {where}", where=words)


def _limits(found: Gap, asked: Asked, seasons: TreeSeasons, sides: list[Bools]) -> list[str]:
    """What the figures can't say."""
    told: list[str] = [say("In 9 of 10 such cases the true difference of the means lies between these bounds.")]
    if found.paired:
        told.append(say("The same trees stood on both sides, so each was held against itself."))
    else:
        told.append(
            say("These trees were not put into the groups by lot: whatever else sets the groups apart shows here too.")
        )
    grew = [_most_common(seasons.shelter[side]) for side in sides]
    if asked.by != "shelter" and not found.paired and None not in grew and grew[0] != grew[1]:
        where = [SHELTER_WORDS[SHELTERS[code or 0]] for code in grew]
        told.append(
            say(
                "Most of the first grew {first}, most of the second {second}: that alone may be the reason.",
                first=where[0],
                second=where[1],
            )
        )
    if asked.by != "variety" and not found.paired:
        shared = set(seasons.variety[sides[0]].tolist()) & set(seasons.variety[sides[1]].tolist())
        if not shared:
            told.append(say("No variety stands in both groups: the difference may be that of the varieties."))
    if asked.by != "year":
        told.append(say("What a year did to all trees is taken off."))
    return told


def _most_common(codes: Ints) -> int | None:
    known = codes[codes >= 0]
    return int(np.bincount(known).argmax()) if len(known) else None
