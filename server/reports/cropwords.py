"""What is said of a tree's crop: what hangs on how many leaves, what it needs, how many to take, what to count."""

from __future__ import annotations

import numpy as np

from server.analysis.crop import LEAVES_LOG_SD_MAX
from server.reports.crops import THINNING, Crops
from server.reports.load import DAY_S
from server.wording.said import Day, Said, cm, in_words, joined, say, say_count

# Common practice, no published source.
SEASON_DAYS = 120.0
EARLY_SET_SHARE = 0.6
"""Fruit that set on shoots of less than this share of the usual length was forced (5 to 15 cm for 25 to 30)."""
TOLD_RATIO = 0.15
"""A leaf area that lies less off the usual one is not worth a sentence."""
EXCEPTIONAL_TIMES = 2.0
"""Twice a full set is exceptional, where no range is known: more is a slip of the pen."""

TAKEN_SINCE = {
    "fruit_breba": say("Some brebas were taken since the last count: count those that are left."),
    "fruit_main": say("Some main fruits were taken since the last count: count those that are left."),
}


def crop_words(crops: Crops, row: int) -> list[str]:
    """What hangs there, what it has for it, what it needs."""
    known, found = crops.tree, crops.crop
    fruit = _fruit_words(known.fruit_breba[row], known.fruit_main[row])
    if np.isnan(found.leaves_per_fruit[row]):
        return [say("It carries no fruit.")]
    low, high = found.leaves_per_fruit_range[:, row]
    figure = crops.kinds[row].figures["leaves_per_fruit"]
    said: list[str] = [
        say(
            "{fruit} on {leaves:.0f} leaves: {each:.1f} leaves for each (between {low:.1f} and {high:.1f}).",
            fruit=fruit,
            leaves=float(known.leaves[row]),
            each=float(found.leaves_per_fruit[row]),
            low=float(low),
            high=float(high),
        ),
        say(
            "One fruit of {species} needs {leaves} leaves, by {source}; about {to_come:.0f} leaves will be there when"
            " the fruit swells.",
            species=crops.kinds[row].words,
            leaves=_range_words(figure.value, figure.low, figure.high),
            source=say("the grower's setting") if figure.is_setting else figure.source,
            to_come=float(found.leaves_to_come[row]),
        ),
    ]
    if abs(known.area_ratio[row] - 1) >= TOLD_RATIO:
        times = float(known.area_ratio[row])
        said.append(say("Its leaves are {times:.1f} times as large as is usual, and count so much.", times=times))
    if np.isnan(known.fruit_main[row]):
        said.append(say("Main fruits were not counted and are taken as none."))
    return said + _crowded_words(crops, row)


def _crowded_words(crops: Crops, row: int) -> list[str]:
    """Doubt a count of more fruit than nodes can bear; every node has, or had, its leaf."""
    full = crops.kinds[row].figures.get("fruit_per_node")
    if full is None:
        return []
    most = full.high if full.high is not None else EXCEPTIONAL_TIMES * full.value
    if not crops.tree.fruit_main[row] > most * max(float(crops.tree.leaves[row]), 1.0):
        return []
    return [
        say_count(
            "That is more than one fruit a leaf, which hardly happens: count both again.",
            "That is more than {most} fruits a leaf, which hardly happens: count both again.",
            round(most),
            most=in_words(round(most)),
        )
    ]


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
    forced = say(
        "Its fruit set by {on} on shoots of {length:.0f}; in a normal year they grow {low.bare:.0f} to {high:.0f}"
        " first."
    )
    on = Day(crops.collection.day_of(float(table.day[row, first])))
    return [forced.filled(on=on, length=cm(float(known[-1])), low=cm(low), high=cm(high))]


def advice_words(crops: Crops, row: int) -> Said:
    """One thing to do: how many to take, brebas first."""
    found = crops.crop
    parts: list[Said] = []
    for name in THINNING:
        take = int(getattr(found, f"remove_{name[6:]}")[row])
        if take:
            low, high = (int(value) for value in getattr(found, f"remove_{name[6:]}_range")[:, row])
            fruit = counted(name, take)
            between = say("{fruit} (between {low} and {high})", fruit=fruit, low=low, high=high)
            parts.append(fruit if low == high else between)
    if not parts:
        return say("Count its leaves and fruit again within a week before you take any off.")
    if len(parts) == 1:
        return say("Take off {fruit}, the smallest first.", fruit=parts[0])
    return say("Take off {fruit}, then {others}, the smallest first.", fruit=parts[0], others=parts[1])


def missing_words(crops: Crops, row: int) -> list[str]:
    """What has to be counted before anything can be said."""
    said: list[str] = []
    known = crops.tree
    if np.isnan(known.leaves[row]):
        if np.isfinite(crops.leaves_day[row]):
            on = Day(crops.collection.day_of(float(crops.leaves_day[row])))
            old = say("Its leaves were not counted since {on}: count them, or the shoots and the leaves of five.")
            said.append(old.filled(on=on))
        else:
            said.append(say("Its leaves were not counted: count them, or the shoots and the leaves of five."))
    elif known.log_sd[row] > LEAVES_LOG_SD_MAX:
        said.append(say("Its leaves are known too roughly: count them all, or those of more shoots."))
    said += [words for name, words in TAKEN_SINCE.items() if crops.fruit[name].stale[row]]
    if np.isnan(known.fruit_breba[row]) and np.isnan(known.fruit_main[row]) and not said:
        said.append(say("Its fruit was not counted lately: count it, and write 0 where there is none."))
    if np.isnan(known.need[row]):
        species = crops.kinds[row].words
        said.append(say("How many leaves a fruit needs is not known for {species}: set it.", species=species))
    return said


def counted(name: str, count: int) -> Said:
    """Fruits of a crop with their number: "1 breba", "20 main fruits"."""
    if name == "fruit_breba":
        return say_count("{count} breba", "{count} brebas", count)
    return say_count("{count} main fruit", "{count} main fruits", count)


def _fruit_words(breba: float, main: float) -> str:
    """What hangs on the tree: "4 brebas and 20 main fruits"."""
    parts = [
        counted(name, round(float(count)))
        for name, count in (("fruit_breba", breba), ("fruit_main", main))
        if np.isfinite(count) and count > 0
    ]
    if len(parts) == 2:
        return say("{brebas} and {fruits}", brebas=parts[0], fruits=parts[1])
    return joined(parts)


def _range_words(value: float, low: float | None, high: float | None) -> Said:
    if low is None or high is None or low == high:
        return say("about {value:.0f}", value=value)
    return say("{low:.0f} to {high:.0f}", low=low, high=high)
