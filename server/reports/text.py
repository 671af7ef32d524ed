"""Reports as lines of text for the terminal; the JSON documents hold the same and more."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from server.wording.said import say

KIND_WORDS = {
    "leaf_drop": "losing leaves",
    "overloaded": "more fruit than its leaves can feed",
    "behind": "behind the season",
    "cold": "cold ahead",
    "too_much_light": "too big a step in light",
    "unvisited": "long unvisited",
}

# Derraik & Rademaker 2007 on the sap of fig and citrus in sunlight. The screens have their own, longer words.
CAUTION_WORDS = {"sap": say("Cover up and keep the sap off your skin: with sun it blisters hours later.")}


FUMES = say("Never burn fuel to warm an airtight space: it makes carbon monoxide. Let air in and use an alarm.")
# What goes with a job on paper; the screens have their own words.
JOB_CAUTIONS = {
    "sap": CAUTION_WORDS["sap"],
    **dict.fromkeys(
        ("prune", "rejuvenate", "root_prune", "pinch", "take_cuttings", "graft"),
        say("Blades cut hands too, and fig sap with sun blisters skin hours later: cover up, cut away from yourself."),
    ),
    "lifting": say("A watered pot weighs far more than a dry one: use a barrow or a second pair of hands."),
    "spray": say("Sprays: the label and the local rules decide on dose, protection, waiting time and weather."),
    "shelter": FUMES,
    "heater": FUMES,
}


def job_lines(document: dict[str, Any]) -> Iterator[str]:
    """What is to be done, the most pressing first: when, what, on which trees, why and how."""
    if not document["items"]:
        yield f"Nothing is to be done on {document['on']}."
    for item in document["items"]:
        yield f"{item['due_on'] or '':10}  {item['title']}  {' '.join(item['tags'])}".rstrip()
        yield from (f"            {sentence}" for sentence in item["why"])
        if item["advice"]:
            yield f"            → {item['advice']}"
        if item["caution"] in JOB_CAUTIONS:
            yield f"            {JOB_CAUTIONS[item['caution']]}"


def alert_lines(document: dict[str, Any]) -> Iterator[str]:
    """The findings one after the other: level, tag, what, why, what to do; then what whole places share."""
    if not document["items"] and not document.get("notices"):
        yield f"Nothing needs you on {document['on']}."
    for item in document["items"]:
        since = f" since {item['since']}" if item["since"] else ""
        yield f"{item['level'].upper():5}  {item['tag']}  {KIND_WORDS[item['kind']]}{since}"
        yield from (f"       {sentence}" for sentence in item["why"])
        for cause in item.get("likely_causes", [])[:2]:
            yield f"       Likely ({cause['weight']:.0%}): {cause['cause']}. {cause['evidence']}"
        yield f"       → {item['advice']}"
        if item.get("caution") in CAUTION_WORDS:
            yield f"       {CAUTION_WORDS[item['caution']]}"
    for notice in document.get("notices") or []:
        yield f"NOTE   {notice['place']}, since {notice['since']}"
        yield from (f"       {sentence}" for sentence in notice["why"])


def trend_lines(document: dict[str, Any]) -> Iterator[str]:
    """A line a tree: leaves with their interval, change a week with its interval, direction, health."""
    yield f"{'tag':8}{'leaves':>8}  {'between':12}{'a week':>9}  {'between':16}{'direction':11}{'health':>6}"
    for item in document["items"]:
        leaves = _number(item["leaves"], "{:.0f}")
        between = _between(item["leaves_low"], item["leaves_high"], "{:.0f}")
        change = _number(item["change_percent_per_week"], "{:+.1f} %")
        sure = _between(item["change_low"], item["change_high"], "{:+.1f}")
        health = _number(item["health"], "{:.0f}")
        yield f"{item['tag']:8}{leaves:>8}  {between:12}{change:>9}  {sure:16}{item['direction']:11}{health:>6}"


def _counting_words(document: dict[str, Any]) -> str:
    """Say how degree-days were counted; the horizontal cutoff goes without saying."""
    method = document["method"].replace("-", " ")
    return method if document["cutoff"] == "horizontal" else f"{method}, {document['cutoff']} cutoff"


def heat_lines(document: dict[str, Any]) -> Iterator[str]:
    """A line a place: degree-days and since when, chill and since when, days that count and gaps; then the limits."""
    head = f"{'degree-days':>11}  {'since':10}  {'most chill':>11}  {'chill hours':>11}  {'since':10}"
    yield f"{head}  {'days':>4}  {'gaps':>4}  place"
    for item in document["items"]:
        warm, units, hours = (
            _number(item[name], "{:.0f}") for name in ("degree_days", "chill_units_peak", "chill_hours")
        )
        yield (
            f"{warm:>11}  {item['from']}  {units:>11}  {hours:>11}  {item['chill_from']}"
            f"  {item['days']:>4}  {item['gaps']:>4}  {item['place']}{_filled_words(item)}"
        )
    limits = f"from {document['base_c']:g} to {document['upper_c']:g} °C"
    yield f"Degree-days for {document['species']}: {limits}, {_counting_words(document)}."
    yield "Most chill: the highest sum of Utah units since then, before warm days take from it. Hours: below 7.2 °C."


def crop_lines(document: dict[str, Any]) -> Iterator[str]:
    """A line a tree that bears or could not be judged: fruit, leaves, leaves a fruit, and what to take off; why not."""
    yield f"{'tag':8}{'leaves':>7}{'brebas':>8}{'main':>6}  {'leaves a fruit':20}{'needs':>6}  take off"
    for item in document["items"]:
        if item["surplus"] is None:
            yield f"{item['tag']:8}{_number(item['leaves'], '{:.0f}'):>7}  {' '.join(item['why'])}"
            continue
        if item["leaves_per_fruit"] is None:
            continue
        counts = [_number(item[name], "{:d}") for name in ("fruit_breba", "fruit_main")]
        between = _between(item["low"], item["high"], "{:.1f}")
        yield (
            f"{item['tag']:8}{_number(item['leaves'], '{:.0f}'):>7}{counts[0]:>8}{counts[1]:>6}"
            f"  {item['leaves_per_fruit']:<6.1f}{between:14}{item['needed']:>6g}  {_take_words(item)}"
        )


def _take_words(item: dict[str, Any]) -> str:
    """How many fruits to take, brebas first, each with its interval where there is one."""
    parts = []
    for crop, words in (("breba", "brebas"), ("main", "main")):
        take, low, high = (item[f"remove_{crop}{end}"] for end in ("", "_low", "_high"))
        if take:
            parts.append(f"{take} {words}" + (f" ({low} to {high})" if low < high else ""))
    return ", ".join(parts) or "none"


def _filled_words(item: dict[str, Any]) -> str:
    """What became of the gaps."""
    parts = [f"{item['filled']} filled"] if item["filled"] else []
    parts += [f"{item['missing']} missing"] if item["missing"] else []
    return f" ({', '.join(parts)})" if parts else ""


def _number(value: float | None, form: str) -> str:
    return "–" if value is None else form.format(value)


def _between(low: float | None, high: float | None, form: str) -> str:
    return "" if low is None or high is None else f"{form.format(low)} to {form.format(high)}"
