"""What is said of a tree's crop: what hangs on how many leaves, what it needs, how many to take, what to count."""

from __future__ import annotations

import numpy as np

from server.analysis.causes import day_words, number_words
from server.analysis.crop import LEAVES_LOG_SD_MAX
from server.reports.crops import THINNING, Crops
from server.reports.load import DAY_S

# Common practice, no published source.
SEASON_DAYS = 120.0
EARLY_SET_SHARE = 0.6
"""Fruit that set on shoots of less than this share of the usual length was forced (5 to 15 cm for 25 to 30)."""
TOLD_RATIO = 0.15
"""A leaf area that lies less off the usual one is not worth a sentence."""
EXCEPTIONAL_TIMES = 2.0
"""Twice a full set is exceptional, where no range is known: more is a slip of the pen."""

FRUIT_WORDS = {"fruit_breba": ("breba", "brebas"), "fruit_main": ("main fruit", "main fruits")}


def crop_words(crops: Crops, row: int) -> list[str]:
    """What hangs there, what it has for it, what it needs."""
    known, found = crops.tree, crops.crop
    fruit = _fruit_words(known.fruit_breba[row], known.fruit_main[row])
    if np.isnan(found.leaves_per_fruit[row]):
        return ["It carries no fruit."]
    low, high = found.leaves_per_fruit_range[:, row]
    figure = crops.kinds[row].figures["leaves_per_fruit"]
    whose = "by the grower's setting" if figure.is_setting else f"by {figure.source}"
    said = [
        f"{fruit} on {known.leaves[row]:.0f} leaves: {found.leaves_per_fruit[row]:.1f} leaves for each "
        f"(between {low:.1f} and {high:.1f}).",
        f"One fruit of {crops.kinds[row].words} needs {_range_words(figure.value, figure.low, figure.high)} leaves, "
        f"{whose}; about {found.leaves_to_come[row]:.0f} leaves will be there when the fruit swells.",
    ]
    if abs(known.area_ratio[row] - 1) >= TOLD_RATIO:
        said.append(f"Its leaves are {known.area_ratio[row]:.1f} times as large as is usual, and count so much.")
    if np.isnan(known.fruit_main[row]):
        said.append("Main fruits were not counted and are taken as none.")
    return said + _crowded_words(crops, row)


def _crowded_words(crops: Crops, row: int) -> list[str]:
    """Doubt a count of more fruit than nodes can bear; every node has, or had, its leaf."""
    full = crops.kinds[row].figures.get("fruit_per_node")
    if full is None:
        return []
    most = full.high if full.high is not None else EXCEPTIONAL_TIMES * full.value
    if not crops.tree.fruit_main[row] > most * max(float(crops.tree.leaves[row]), 1.0):
        return []
    return [f"That is more than {number_words(round(most))} fruits a leaf, which hardly happens: count both again."]


def forced_words(crops: Crops, row: int) -> list[str]:
    """Say so where the main crop set on shoots that were still short."""
    usual = crops.kinds[row].figures.get("shoot_at_set_cm")
    table = crops.collection.visits
    bearing = np.nan_to_num(table.counted["fruit_main"][row]) > 0
    bearing &= table.day[row] >= crops.collection.until_s / DAY_S - SEASON_DAYS
    if usual is None or not bearing.any():
        return []
    first = int(np.argmax(bearing))
    measured = table.counted["shoot_cm"][row, : first + 1]
    known = measured[np.isfinite(measured)]
    if not len(known) or known[-1] >= EARLY_SET_SHARE * usual.value:
        return []
    low, high = usual.low or usual.value, usual.high or usual.value
    when = day_words(crops.collection.day_of(float(table.day[row, first])))
    return [
        f"Its fruit set by {when} on shoots of {known[-1]:.0f} cm; "
        f"in a normal year they grow {low:.0f} to {high:.0f} cm first."
    ]


def advice_words(crops: Crops, row: int) -> str:
    """One thing to do: how many to take, brebas first."""
    found, parts = crops.crop, []
    for name in THINNING:
        take = int(getattr(found, f"remove_{name[6:]}")[row])
        if take:
            low, high = (int(value) for value in getattr(found, f"remove_{name[6:]}_range")[:, row])
            between = f" (between {low} and {high})" if low != high else ""
            parts.append(f"{take} {FRUIT_WORDS[name][int(take != 1)]}{between}")
    if not parts:
        return "Count its leaves and fruit again within a week before you take any off."
    return f"Take off {', then '.join(parts)}, the smallest first."


def missing_words(crops: Crops, row: int) -> list[str]:
    """What has to be counted before anything can be said."""
    said, known = [], crops.tree
    if np.isnan(known.leaves[row]):
        old = np.isfinite(crops.leaves_day[row])
        since = f" since {day_words(crops.collection.day_of(float(crops.leaves_day[row])))}" if old else ""
        said.append(f"Its leaves were not counted{since}: count them, or the shoots and the leaves of five.")
    elif known.log_sd[row] > LEAVES_LOG_SD_MAX:
        said.append("Its leaves are known too roughly: count them all, or those of more shoots.")
    for name, (_, many) in FRUIT_WORDS.items():
        if crops.fruit[name].stale[row]:
            said.append(f"Some {many} were taken since the last count: count those that are left.")
    if np.isnan(known.fruit_breba[row]) and np.isnan(known.fruit_main[row]) and not said:
        said.append("Its fruit was not counted lately: count it, and write 0 where there is none.")
    if np.isnan(known.need[row]):
        said.append(f"How many leaves a fruit needs is not known for {crops.kinds[row].words}: set it.")
    return said


def _fruit_words(breba: float, main: float) -> str:
    """What hangs on the tree: "4 brebas and 20 main fruits"."""
    parts = [
        f"{count:.0f} {FRUIT_WORDS[name][int(count != 1)]}"
        for name, count in (("fruit_breba", breba), ("fruit_main", main))
        if np.isfinite(count) and count > 0
    ]
    return " and ".join(parts)


def _range_words(value: float, low: float | None, high: float | None) -> str:
    if low is None or high is None or low == high:
        return f"about {value:.0f}"
    return f"{low:.0f} to {high:.0f}"
