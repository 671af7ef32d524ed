"""Fruit against leaves, tree by tree: what the leaves can feed, and how many fruits should come off."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from server.reports.crops import Crops, find_crops
from server.reports.cropwords import advice_words, crop_words, forced_words, missing_words
from server.reports.judge import judge
from server.reports.load import load
from server.reports.shapes import AlertItem, Report, rounded

CAUTION = "sap"
"""Key of the note that goes with every thinning: the sap burns skin in the sun."""


@dataclass(frozen=True)
class CropItem:
    """One tree's fruit against its leaves.

    `leaves_per_fruit` now with its 90 % interval `low` to `high`; `needed` leaves a fruit, by `needed_source`;
    `surplus` fruits beyond what the leaves can feed, to come off as `remove_breba`, then `remove_main`, each with its
    interval. None where too little was counted; `why` says what is missing.
    """

    tag: str
    tree: str
    leaves: float | None
    fruit_breba: int | None
    fruit_main: int | None
    leaves_per_fruit: float | None
    low: float | None
    high: float | None
    needed: float | None
    surplus: int | None
    remove_breba: int | None
    remove_main: int | None
    surplus_low: int | None
    surplus_high: int | None
    remove_breba_low: int | None
    remove_breba_high: int | None
    remove_main_low: int | None
    remove_main_high: int | None
    leaves_to_come: float | None
    probability: float | None
    needed_source: str | None
    why: list[str]
    advice: str | None
    caution: str | None


@dataclass(frozen=True)
class OverloadedItem(AlertItem):
    """A tree with more fruit than its leaves can feed; `caution` is the key of a note to show with the advice."""

    probability: float = 0.0
    surplus: int = 0
    remove_breba: int = 0
    remove_main: int = 0
    caution: str = CAUTION


def crop(on: date | None = None) -> Report:
    """Fruit against leaves of every tree up to the end of `on` (None: today)."""
    return crop_report(find_crops(judge(load(on))))


def crop_report(crops: Crops) -> Report:
    """Lay the crops out as items."""
    return Report(crops.collection.on, [crop_item(crops, row) for row in range(len(crops.collection.trees))])


def crop_item(crops: Crops, row: int) -> CropItem:
    """One tree's crop in figures and words."""
    tree, known, found = crops.collection.trees[row], crops.tree, crops.crop
    said = np.isfinite(found.surplus[row])
    figure = crops.kinds[row].figures.get("leaves_per_fruit")
    ranges = {
        name: [_whole(value) for value in getattr(found, f"{name}_range")[:, row]]
        for name in ("surplus", "remove_breba", "remove_main")
    }
    surplus = _whole(found.surplus[row])
    return CropItem(
        tag=tree.tag,
        tree=tree.id,
        leaves=rounded(known.leaves[row], 1),
        fruit_breba=_whole(crops.fruit["fruit_breba"].count[row]),
        fruit_main=_whole(crops.fruit["fruit_main"].count[row]),
        leaves_per_fruit=rounded(found.leaves_per_fruit[row], 2),
        low=rounded(found.leaves_per_fruit_range[0, row], 2),
        high=rounded(found.leaves_per_fruit_range[1, row], 2),
        needed=figure.value if figure else None,
        surplus=surplus,
        remove_breba=_whole(found.remove_breba[row]),
        remove_main=_whole(found.remove_main[row]),
        surplus_low=ranges["surplus"][0],
        surplus_high=ranges["surplus"][1],
        remove_breba_low=ranges["remove_breba"][0],
        remove_breba_high=ranges["remove_breba"][1],
        remove_main_low=ranges["remove_main"][0],
        remove_main_high=ranges["remove_main"][1],
        leaves_to_come=rounded(found.leaves_to_come[row], 0),
        probability=rounded(found.probability[row], 3),
        needed_source=figure.source if figure else None,
        why=crop_words(crops, row) if said else missing_words(crops, row),
        advice=advice_words(crops, row) if surplus else None,
        caution=CAUTION if surplus else None,
    )


def overloaded(crops: Crops) -> list[OverloadedItem]:
    """Findings for trees that surely carry more than their leaves can feed."""
    found = []
    for row in np.flatnonzero(crops.crop.watch):
        tree = crops.collection.trees[row]
        found.append(
            OverloadedItem(
                tag=tree.tag,
                tree=tree.id,
                kind="overloaded",
                level="act" if crops.crop.act[row] else "watch",
                since=crops.collection.day_of(_since(crops, int(row))).isoformat(),
                why=[*crop_words(crops, int(row)), *forced_words(crops, int(row))],
                advice=advice_words(crops, int(row)),
                probability=round(float(crops.crop.probability[row]), 3),
                surplus=int(crops.crop.surplus[row]),
                remove_breba=int(crops.crop.remove_breba[row]),
                remove_main=int(crops.crop.remove_main[row]),
            )
        )
    return found


def _since(crops: Crops, row: int) -> float:
    """Day of the first count in the run, up to the last, in which each fruit had fewer leaves than it needs."""
    table, need = crops.collection.visits, float(crops.tree.need[row])
    breba, main = (table.counted[name][row] for name in ("fruit_breba", "fruit_main"))
    fruit = np.where(np.isfinite(breba) | np.isfinite(main), np.nan_to_num(breba) + np.nan_to_num(main), np.nan)
    at = np.flatnonzero(np.isfinite(fruit) & np.isfinite(crops.totals[row]))
    if not len(at):
        return float(np.nanmax([each.day[row] for each in crops.fruit.values()]))
    fed = np.flatnonzero(crops.totals[row, at] >= need * fruit[at])
    first = at[min(fed[-1] + 1, len(at) - 1)] if len(fed) else at[0]
    return float(table.day[row, first])


def _whole(value: float) -> int | None:
    return int(value) if np.isfinite(value) else None
