"""The year's end on paper: the review, what can be said and what not, shelters compared, what was decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from labels.booklet import Block, Heading, Points, Table, Words, booklet_pdf
from labels.errors import LabelError
from labels.plots import PlotData, PlotRow
from server.errors import Refused
from server.records.plans import DecisionRow
from server.records.settings import read_settings
from server.reports.compare import MEASURES, CompareReport, amount_words
from server.reports.season import SeasonItem, SeasonReport
from server.reports.season_settings import WEIGHT_WORDS
from server.reports.text_years import MEASURE_WORDS, VERDICTS, shelter_word
from server.reports.year_end import YearEnd, year_end

BEST_TOLD = 3
DECISION_WORDS = {"keep": "Keep", "trial_again": "Try again", "give_away": "Give away", "retire": "Retire"}
PLOT_NOTE = (
    "A dot is the estimate, the line through it the band that holds the truth in 9 of 10 cases. A hollow dot is a plain"
    " mean that no band bounds yet."
)
RANK_NOTE = (
    "Rank 1 is best. The rank rests on all growing years so far: {weights}. What counts for how much is a grower's"
    " setting; no publication gives it."
)


def year_end_pdf(on: date | None, year: int | None, paper: str) -> bytes:
    """The report of a growing year as a PDF. Raises Refused for a year out of reach, or more than paper holds."""
    found = year_end(on, year)
    review = found.season
    title = f"{read_settings().collection}: growing year {review.year}"
    over = "" if review.over else " It is not over yet."
    runs = f"{review.growing_year}. As known at the end of {review.on.isoformat()}.{over}"
    try:
        return booklet_pdf(title, runs, list(_blocks(found)), paper)
    except LabelError as error:
        raise Refused(str(error)) from error


def _blocks(found: YearEnd) -> Iterator[Block]:
    items: list[SeasonItem] = found.season.items
    yield Heading("In short")
    yield Points(list(_headlines(found)))
    if items:
        yield Heading("Varieties, best first")
        yield Words(f"{PLOT_NOTE} {RANK_NOTE.format(weights=_weights(found.season))}")
    for species, of_species in groupby(items, key=lambda item: item.species):
        yield from _ranked(species, list(of_species), found.season.early)
    if items:
        yield Heading("What can be said, and what not")
        yield from _sayable(items, found.season.early)
    yield Heading("Shelters compared")
    yield from _compared(found.compare)
    yield Heading("What was decided")
    yield from _decided(found.decisions)


def _headlines(found: YearEnd) -> Iterator[str]:
    review = found.season
    items: list[SeasonItem] = review.items
    if not items:
        yield "Nothing was seen or picked in it."
        return
    trees, kinds = sum(item.trees for item in items), len({(item.species, item.variety) for item in items})
    yield f"{_count(trees, 'tree-season')} of {_count(kinds, 'variety', 'varieties')} under {_shelters(items)}."
    weighed = [item for item in items if item.picked_g is not None and item.trees_picked]
    grams = sum((item.picked_g or 0.0) * item.trees_picked for item in weighed)
    yield (
        f"{grams / 1000:.1f} kg were picked from the {sum(item.trees_picked for item in weighed)} trees whose yield is"
        " known." if weighed else "No yield is known: weigh what you pick."
    )  # fmt: skip
    if review.early:
        yield "It is too early in the growing year for verdicts; the ranks rest on what earlier years gave."
    else:
        yield ", ".join(f"{sum(item.verdict == word for item in items)} {word}" for word in VERDICTS) + "."
    for species, of_species in groupby(items, key=lambda item: item.species):
        best = [f"{_name(item)} ({_between_ranks(item)})" for item in list(of_species)[:BEST_TOLD]]
        yield f"Best of {species}: {', '.join(best)}."
    if found.decisions:
        yield f"Something was decided about {_count(len(found.decisions), 'tree')}."


def _ranked(species: str, items: Sequence[SeasonItem], early: bool) -> Iterator[Block]:
    yield Heading(f"{species.capitalize()}: rank", 2)
    ranks = [PlotRow(_name(item), item.rank, item.rank_low, item.rank_high, _rank_words(item, early)) for item in items]
    yield PlotData(ranks, f"rank, of {items[0].of}", whole=True)
    yield Heading(f"{species.capitalize()}: yield", 2)
    yield PlotData([_yield_row(item) for item in items], "grams of fruit a tree, this growing year")
    yield Heading(f"{species.capitalize()}: what else was seen", 2)
    head = ("Variety, shelter", "Trees", "Quality 1-5", "Ripe after", "Leaf drops a tree", "Damage %", "Care a tree")
    rows = [
        (
            *(_name(item), str(item.trees), _figure(item.quality, 1), _figure(item.days_to_ripeness, 0, " days")),
            *(_figure(item.leaf_drops, 1), _figure(item.damage_percent, 0), _figure(item.care, 1)),
        )
        for item in items
    ]
    yield Table(head, rows, (34, 8, 11, 13, 12, 11, 11))


def _yield_row(item: SeasonItem) -> PlotRow:
    if item.yield_g is None or item.yield_low is None or item.yield_high is None:
        plain = item.picked_g
        words = "" if plain is None else f"{plain:.0f}, {_count(item.trees_picked, 'tree')}"
        return PlotRow(_name(item), plain, None, None, words)
    words = f"{item.yield_g:.0f} ({item.yield_low:.0f} to {item.yield_high:.0f})"
    return PlotRow(_name(item), item.yield_g, item.yield_low, item.yield_high, words)


def _sayable(items: Sequence[SeasonItem], early: bool) -> Iterator[Block]:
    if early:
        yield Words("It is too early in the growing year for a verdict on any variety.")
        return
    for verdict, head in (("keep", "Keep"), ("let go", "Let go")):
        told = [item for item in items if item.verdict == verdict]
        if told:
            yield Heading(f"{head}: this can be said", 2)
            yield Points([f"{_name(item)}: {' '.join(item.reasons)}" for item in told])
    unsure = sorted((item for item in items if item.verdict == "try again"), key=_why_unsure)
    if unsure:
        yield Heading("Try again: this can't be said yet", 2)
        groups = groupby(unsure, key=_why_unsure)
        yield Points([f"{why} {', '.join(_name(item) for item in those)}." for why, those in groups])


def _why_unsure(item: SeasonItem) -> str:
    if len(item.reasons) == 1:
        return item.reasons[0]
    return "Its rank is not sure enough to keep it or to let it go; more trees, or another year, would tell."


def _compared(report: CompareReport) -> Iterator[Block]:
    if not report.items:
        yield Words("No variety stood under two shelters, or with and without a head start: nothing can be compared.")
        return
    yield Words(
        "What the first shelter gives more (right of nothing) or less (left of it) than the second, all varieties of a"
        " species taken together, over all growing years up to this one. Where the band crosses nothing, it can't be"
        " told yet which is more."
    )
    for (species, measure), items in groupby(report.overall, key=lambda item: (item["species_words"], item["measure"])):
        listed = sorted(items, key=lambda item: item["told"] == "unknown")
        yield Heading(f"{species.capitalize()}: {MEASURE_WORDS[measure]}", 2)
        yield PlotData([_difference(item) for item in listed], f"difference,{MEASURES[measure].unit}", zero=True)
    told = [item.say for item in report.items if item.told != "unknown"]
    if told:
        yield Heading("In single varieties", 2)
        yield Points(told)
    unsure = len(report.items) - len(told)
    if unsure:
        yield Words(
            f"{_count(unsure, 'difference')} in single varieties can't be told yet: too few trees, or too unlike."
        )


def _difference(item: dict[str, Any]) -> PlotRow:
    pair = f"{shelter_word(item['shelter'])} against {shelter_word(item['against'])}"
    if item["head_start_days"] is not None:
        pair = f"{item['head_start_days']} days' head start"
    sure = item["told"] != "unknown" and item["difference"] is not None
    words = amount_words(item["measure"], item["difference"]) if sure else "can't tell yet"
    return PlotRow(pair, item["difference"], item["low"], item["high"], words)


def _decided(decisions: Sequence[DecisionRow]) -> Iterator[Block]:
    if not decisions:
        yield Words("Nothing is on record. A decision is written on a tree's card.")
        return
    rows = [
        (DECISION_WORDS[row.decision], row.variety or "unnamed", row.tag, row.decided_on or "")
        for word in DECISION_WORDS
        for row in decisions
        if row.decision == word
    ]
    yield Table(("Decision", "Variety", "Tag", "Decided on"), rows, (20, 40, 20, 20))


def _weights(review: SeasonReport) -> str:
    told = sorted(review.weights.items(), key=lambda part: -part[1])
    return ", ".join(f"{WEIGHT_WORDS[name]} {100 * share:.0f} %" for name, share in told if share)


def _shelters(items: Sequence[SeasonItem]) -> str:
    return ", ".join(dict.fromkeys(shelter_word(item.shelter) for item in items))


def _name(item: SeasonItem) -> str:
    return f"{item.variety}, {shelter_word(item.shelter)}"


def _between_ranks(item: SeasonItem) -> str:
    same = item.rank_low == item.rank_high
    return f"rank {item.rank_low}" if same else f"rank {item.rank_low} to {item.rank_high}"


def _rank_words(item: SeasonItem, early: bool) -> str:
    return f"{item.rank} of {item.of}" + ("" if early else f", {item.verdict}")


def _figure(value: float | None, digits: int, unit: str = "") -> str:
    return "–" if value is None else f"{value:.{digits}f}{unit}"


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"
