"""The comparison of shelters and the season's review as lines of text for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from server.reports.compare import amount_words, bounds_words
from server.wording.said import say

MEASURE_WORDS = {
    "growth_cm": say("shoot growth"),
    "leaves": say("leaves"),
    "fruit": say("fruits"),
    "yield_g": say("yield"),
    "days_to_ripeness": say("ripeness"),
    "days_to_ripeness_breba": say("ripeness, brebas"),
}
VERDICTS = ("keep", "let go", "try again")
VERDICT_WORDS = {"keep": say("keep"), "let go": say("let go"), "try again": say("try again")}
COVER_WORDS = {
    "open": say("open"),
    "ground": say("ground"),
    "shade": say("shade"),
    "porch": say("porch"),
    "low_tunnel": say("low tunnel"),
    "polytunnel": say("polytunnel"),
    "glasshouse": say("glasshouse"),
    "indoors": say("indoors"),
}


def compare_lines(document: dict[str, Any]) -> Iterator[str]:
    """Tell what varieties of a species have in common, line by line; then what single varieties tell, and what not."""
    items = document["items"]
    if not items:
        yield "No variety stood under two shelters, or with and without a head start: there is nothing to compare yet."
        yield f"To learn what a shelter does, put {_least(document)} or more trees of a variety under each of two."
        return
    for species, found in groupby(document["overall"], key=lambda item: str(item["species_words"])):
        yield f"{species.capitalize()}, varieties together"
        yield from _table(list(found))
        yield ""
    told = [item for item in items if item["told"] != "unknown"]
    yield from (item["say"] for item in told)
    yield from _untold(document, len(told))


def _table(items: Sequence[dict[str, Any]]) -> Iterator[str]:
    """A line a difference, those that can be told first."""
    yield f"  {'what':17}{'shelter against another':34}{'difference':18}{'between':38}trees"
    for item in sorted(items, key=lambda item: item["told"] == "unknown"):
        sure = item["told"] != "unknown"
        says = amount_words(item["measure"], item["difference"]) if sure else "can't tell yet"
        bounds = bounds_words(item["measure"], item["low"], item["high"]).removeprefix("between ")
        pair = f"{shelter_word(item['shelter'])} against {shelter_word(item['against'])}"
        if item["head_start_days"] is not None:
            pair = f"{item['head_start_days']} days' head start"
        trees = f"{item['trees_shelter']} against {item['trees_against']}"
        yield f"  {MEASURE_WORDS[item['measure']]:17}{pair:34}{says:18}{bounds:38}{trees}"


def _untold(document: dict[str, Any], told: int) -> Iterator[str]:
    """How many differences of single varieties can't be told yet, why, and what would help."""
    least = document["trees_a_side_min"]
    unsure = [item for item in document["items"] if item["told"] == "unknown"]
    if not unsure:
        return
    few = sum(min(item["trees_shelter"], item["trees_against"]) < least for item in unsure)
    begins = f"{len(unsure)} more differences" if told else f"Of the {len(unsure)} differences"
    whose = "in single varieties can't be told yet" if told else "in single varieties, none can be told yet"
    yield f"{begins} {whose} (--json lists them)."
    if few:
        yield f"  {few} have fewer than {_least(document)} trees on one side: put more trees of the variety there."
    if few < len(unsure):
        yield f"  {len(unsure) - few} have trees that differ too much among themselves: more trees, or another year."


def _least(document: dict[str, Any]) -> str:
    return {1: "one", 2: "two", 3: "three"}.get(document["trees_a_side_min"], str(document["trees_a_side_min"]))


def season_lines(document: dict[str, Any]) -> Iterator[str]:
    """Species by species, a line a variety and shelter, best first; then the reasons of its verdict."""
    yield f"Growing year {document['year']} ({document['growing_year']}){'' if document['over'] else ', not over yet'}"
    if not document["items"]:
        yield "Nothing was seen or picked in it."
        return
    if document["early"]:
        yield "It is too early in the growing year for verdicts; the ranks rest on what earlier years gave."
    else:
        yield ", ".join(f"{sum(item['verdict'] == word for item in document['items'])} {word}" for word in VERDICTS)
    for species, items in groupby(document["items"], key=lambda item: str(item["species"])):
        yield ""
        yield f"{species.capitalize()}: best first"
        yield from _kind_lines(list(items), document["early"])


def _kind_lines(items: Sequence[dict[str, Any]], early: bool) -> Iterator[str]:
    head = f"{'verdict':11}{'rank':>4}  {'between':9}{'g a tree':>9}  {'between':14}{'quality':>8}{'ripe after':>11}"
    yield f"{head}{'troubles':>9}{'care':>6}{'trees':>6}  variety, shelter"
    for item in items:
        rank = f"{item['rank_low']} to {item['rank_high']}"
        grams = item["picked_g"] if item["yield_g"] is None else item["yield_g"]
        low, high = item["yield_low"], item["yield_high"]
        between = "" if low is None or high is None else f"{low:.0f} to {high:.0f}"
        yield (
            f"{'–' if early else item['verdict']:11}{item['rank']:>4}  {rank:9}{_figure(grams, 0):>9}  {between:14}"
            f"{_figure(item['quality'], 1):>8}{_figure(item['days_to_ripeness'], 0, ' days'):>11}"
            f"{_figure(item['troubles'], 1):>9}{_figure(item['care'], 1):>6}{item['trees']:>6}"
            f"  {item['variety']}, {shelter_word(item['shelter'])}"
        )
        if not early:
            yield f"           {' '.join(item['reasons'])}"


def shelter_word(cover: str) -> str:
    """A cover as it is said."""
    return COVER_WORDS.get(cover, cover)


def _figure(value: float | None, digits: int, unit: str = "") -> str:
    return "–" if value is None else f"{value:.{digits}f}{unit}"
