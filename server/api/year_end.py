"""The year's end on paper: the review, what can be said and what not, shelters compared, what was decided."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from labels.booklet import Block, Heading, Points, Table, Words
from labels.plots import PlotData, PlotRow
from server.api.doors import manner
from server.api.paper import booklet
from server.records.plans import DecisionRow
from server.records.settings import read_settings
from server.reports.compare import MEASURES, CompareReport, amount_words
from server.reports.season import SeasonItem, SeasonReport
from server.reports.season_settings import WEIGHT_WORDS
from server.reports.text_years import MEASURE_WORDS, VERDICT_WORDS, VERDICTS, shelter_word
from server.reports.year_end import YearEnd, year_end
from server.wording.said import Day, Figure, Said, capital, cm, joined, say, say_count

BEST_TOLD = 3
DECISION_WORDS = {
    "keep": say("Keep"),
    "trial_again": say("Try again"),
    "give_away": say("Give away"),
    "retire": say("Retire"),
}
PLOT_NOTE = say(
    "A dot is the estimate, the line through it the band that holds the truth in 9 of 10 cases. A hollow dot is a plain"
    " mean that no band bounds yet."
)
RANK_NOTE = say(
    "Rank 1 is best. The rank rests on all growing years so far: {weights}. What counts for how much is a grower's"
    " setting; no publication gives it."
)

COMPARED_NOTE = say(
    "What the first shelter gives more (right of nothing) or less (left of it) than the second, all varieties of a"
    " species taken together, over all growing years up to this one. Where the band crosses nothing, it can't be told"
    " yet which is more."
)


def year_end_pdf(on: date | None, year: int | None, paper: str) -> bytes:
    """The report of a growing year as a PDF. Raises Refused for a year out of reach, or more than paper holds."""
    found = year_end(on, year)
    review = found.season
    title = say("{collection}: growing year {year}", collection=read_settings().collection, year=review.year)
    known = say("As known at the end of {on}.", on=Day(review.on, with_year=True))
    over = [] if review.over else [say("It is not over yet.")]
    return booklet(title, joined([f"{review.growing_year}.", known, *over]), _blocks(found), paper)


def _blocks(found: YearEnd) -> Iterator[Block]:
    items: list[SeasonItem] = found.season.items
    yield Heading(say("In short"))
    yield Points(list(_headlines(found)))
    if items:
        yield Heading(say("Varieties, best first"))
        yield Words(joined([PLOT_NOTE, RANK_NOTE.filled(weights=_weights(found.season))]))
    for _, of_species in groupby(items, key=lambda item: item.species):
        yield from _ranked(list(of_species), found.season.early)
    if items:
        yield Heading(say("What can be said, and what not"))
        yield from _sayable(items, found.season.early)
    yield Heading(say("Shelters compared"))
    yield from _compared(found.compare)
    yield Heading(say("What was decided"))
    yield from _decided(found.decisions)


def _headlines(found: YearEnd) -> Iterator[str]:
    review = found.season
    items: list[SeasonItem] = review.items
    if not items:
        yield say("Nothing was seen or picked in it.")
        return
    trees, kinds = sum(item.trees for item in items), len({(item.species, item.variety) for item in items})
    seasons = say_count("{count} tree-season", "{count} tree-seasons", trees)
    of_kinds = say_count("{count} variety", "{count} varieties", kinds)
    yield say(
        "{seasons} of {varieties} under {shelters}.", seasons=seasons, varieties=of_kinds, shelters=_shelters(items)
    )
    weighed = [item for item in items if item.picked_g is not None and item.trees_picked]
    grams = sum((item.picked_g or 0.0) * item.trees_picked for item in weighed)
    if weighed:
        picked = say("{kg:.1f} kg were picked from the {trees} trees whose yield is known.")
        yield picked.filled(kg=grams / 1000, trees=sum(item.trees_picked for item in weighed))
    else:
        yield say("No yield is known: weigh what you pick.")
    if review.early:
        yield say("It is too early in the growing year for verdicts; the ranks rest on what earlier years gave.")
    else:
        counts = {word: sum(item.verdict == word for item in items) for word in VERDICTS}
        yield say(
            "{keep} keep, {let_go} let go, {again} try again.",
            keep=counts["keep"],
            let_go=counts["let go"],
            again=counts["try again"],
        )
    for _, of_species in groupby(items, key=lambda item: item.species):
        first = list(of_species)[:BEST_TOLD]
        best = [say("{name} ({ranks})", name=_name(item), ranks=_between_ranks(item)) for item in first]
        yield say("Best of {species}: {best}.", species=first[0].species_words, best=joined(best, ", "))
    if found.decisions:
        decided = len(found.decisions)
        yield say_count(
            "Something was decided about {count} tree.", "Something was decided about {count} trees.", decided
        )


def _ranked(items: Sequence[SeasonItem], early: bool) -> Iterator[Block]:
    species = items[0].species_words
    yield Heading(say("{species}: rank", species=capital(species)), 2)
    ranks = [PlotRow(_name(item), item.rank, item.rank_low, item.rank_high, _rank_words(item, early)) for item in items]
    yield PlotData(ranks, say("rank, of {of}", of=items[0].of), whole=True)
    yield Heading(say("{species}: yield", species=capital(species)), 2)
    yield PlotData([_yield_row(item) for item in items], say("grams of fruit a tree, this growing year"))
    yield Heading(say("{species}: what else was seen", species=capital(species)), 2)
    head = (
        *(say("Variety, shelter"), say("Trees"), say("Quality 1-5"), say("Ripe after"), say("Leaf drops a tree")),
        *(say("Damage %"), say("Care a tree")),
    )
    rows = [
        (
            *(_name(item), str(item.trees), _figure(item.quality, 1), _days(item.days_to_ripeness)),
            *(_figure(item.leaf_drops, 1), _figure(item.damage_percent, 0), _figure(item.care, 1)),
        )
        for item in items
    ]
    yield Table(head, rows, (34, 8, 11, 13, 12, 11, 11))


def _yield_row(item: SeasonItem) -> PlotRow:
    if item.yield_g is None or item.yield_low is None or item.yield_high is None:
        plain = item.picked_g
        if plain is None:
            return PlotRow(_name(item), None, None, None)
        words = say_count("{grams:.0f}, {count} tree", "{grams:.0f}, {count} trees", item.trees_picked, grams=plain)
        return PlotRow(_name(item), plain, None, None, words)
    words = say("{middle:.0f} ({low:.0f} to {high:.0f})", middle=item.yield_g, low=item.yield_low, high=item.yield_high)
    return PlotRow(_name(item), item.yield_g, item.yield_low, item.yield_high, words)


def _sayable(items: Sequence[SeasonItem], early: bool) -> Iterator[Block]:
    if early:
        yield Words(say("It is too early in the growing year for a verdict on any variety."))
        return
    for verdict, head in (("keep", say("Keep: this can be said")), ("let go", say("Let go: this can be said"))):
        told = [item for item in items if item.verdict == verdict]
        if told:
            yield Heading(head, 2)
            yield Points([say("{name}: {reasons}", name=_name(item), reasons=joined(item.reasons)) for item in told])
    unsure = sorted((item for item in items if item.verdict == "try again"), key=_why_unsure)
    if unsure:
        yield Heading(say("Try again: this can't be said yet"), 2)
        groups = groupby(unsure, key=_why_unsure)
        yield Points([say("{why} {names}.", why=why, names=joined(map(_name, those), ", ")) for why, those in groups])


def _why_unsure(item: SeasonItem) -> str:
    if len(item.reasons) == 1:
        return item.reasons[0]
    return say("Its rank is not sure enough to keep it or to let it go; more trees, or another year, would tell.")


def _compared(report: CompareReport) -> Iterator[Block]:
    if not report.items:
        yield Words(
            say("No variety stood under two shelters, or with and without a head start: nothing can be compared.")
        )
        return
    yield Words(COMPARED_NOTE)
    for (species, measure), items in groupby(report.overall, key=lambda item: (item["species_words"], item["measure"])):
        listed = sorted(items, key=lambda item: item["told"] == "unknown")
        yield Heading(say("{species}: {measure}", species=capital(species), measure=MEASURE_WORDS[measure]), 2)
        unit = say("difference, {unit}", unit=_unit(measure))
        yield PlotData([_difference(item) for item in listed], unit, zero=True)
    told = [item.say for item in report.items if item.told != "unknown"]
    if told:
        yield Heading(say("In single varieties"), 2)
        yield Points(told)
    unsure = len(report.items) - len(told)
    if unsure:
        yield Words(
            say_count(
                "{count} difference in single varieties can't be told yet: too few trees, or too unlike.",
                "{count} differences in single varieties can't be told yet: too few trees, or too unlike.",
                unsure,
            )
        )


def _difference(item: dict[str, Any]) -> PlotRow:
    sides = {"shelter": shelter_word(item["shelter"]), "against": shelter_word(item["against"])}
    pair = say("{shelter} against {against}", **sides)
    if item["head_start_days"] is not None:
        pair = say("{days} days' head start", days=item["head_start_days"])
    sure = item["told"] != "unknown" and item["difference"] is not None
    words = amount_words(item["measure"], item["difference"]) if sure else say("can't tell yet")
    middle, low, high = (_shown(item["measure"], item[name]) for name in ("difference", "low", "high"))
    return PlotRow(pair, middle, low, high, words)


def _shown(measure: str, value: float | None) -> float | None:
    """A figure in the unit of whoever asks, as the words beside it are."""
    return value if value is None or measure != "growth_cm" else manner().amount(cm(value)).value


def _unit(measure: str) -> str:
    if measure == "growth_cm":
        return manner().amount(cm(0.0)).label
    return MEASURES[measure].unit


def _decided(decisions: Sequence[DecisionRow]) -> Iterator[Block]:
    if not decisions:
        yield Words(say("Nothing is on record. A decision is written on a tree's card."))
        return
    rows = [
        (DECISION_WORDS[row.decision], row.variety or say("unnamed"), row.tag, row.decided_on or "")
        for word in DECISION_WORDS
        for row in decisions
        if row.decision == word
    ]
    yield Table((say("Decision"), say("Variety"), say("Tag"), say("Decided on")), rows, (20, 40, 20, 20))


def _weights(review: SeasonReport) -> Said:
    told = sorted(review.weights.items(), key=lambda part: -part[1])
    shares = [
        say("{what} {percent:.0f} %", what=WEIGHT_WORDS[name], percent=100 * share) for name, share in told if share
    ]
    return joined(shares, ", ")


def _shelters(items: Sequence[SeasonItem]) -> Said:
    return joined(dict.fromkeys(shelter_word(item.shelter) for item in items), ", ")


def _name(item: SeasonItem) -> Said:
    return say("{variety}, {shelter}", variety=item.variety, shelter=shelter_word(item.shelter))


def _between_ranks(item: SeasonItem) -> Said:
    if item.rank_low == item.rank_high:
        return say("rank {rank}", rank=item.rank_low)
    return say("rank {low} to {high}", low=item.rank_low, high=item.rank_high)


def _rank_words(item: SeasonItem, early: bool) -> Said:
    rank = {"rank": item.rank, "of": item.of}
    if early:
        return say("{rank} of {of}", **rank)
    return say("{rank} of {of}, {verdict}", verdict=VERDICT_WORDS[item.verdict], **rank)


def _figure(value: float | None, digits: int) -> str:
    return "–" if value is None else say("{value}", value=Figure(value, f".{digits}f"))


def _days(value: float | None) -> str:
    return "–" if value is None else say("{days:.0f} days", days=value)
