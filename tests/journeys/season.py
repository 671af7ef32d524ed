"""A collection's spring as CSV files: sound trees in two places, seen every four days until two days ago."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from server import ids

VISITS = 14
DAYS_BETWEEN = 4
LAST_VISIT_DAYS_AGO = 2
USUAL_A_DAY = 0.003
LEAVES_AT_START = 60


@dataclass(frozen=True)
class Spring:
    """The codes of the trees, place by place, and the folder that holds the files."""

    folder: Path
    tags: dict[str, list[str]]


def write_spring(folder: Path, trees_a_place: int = 8, seed: int = 7) -> Spring:
    """Write varieties, places, trees and observations of a spring in which nothing went wrong."""
    folder.mkdir()
    random = np.random.default_rng(seed)
    places = {"South yard": "open", "Porch": "porch"}
    tags = {place: [ids.new_tag_code() for _ in range(trees_a_place)] for place in places}
    _write(folder / "varieties.csv", [{"variety": "Amber Lantern", "species": "fig"}])
    _write(folder / "places.csv", [{"place": place, "cover": cover} for place, cover in places.items()])
    rows = [
        {"tag": tag, "variety": "Amber Lantern", "place": place, "pot_litres": 19, "position": position}
        for place, codes in tags.items()
        for position, tag in enumerate(codes, start=1)
    ]
    _write(folder / "trees.csv", rows)
    _write(folder / "observations.csv", [visit for row in rows for visit in _visits(row["tag"], random)])
    return Spring(folder, tags)


def _visits(tag: str, random: np.random.Generator) -> list[dict[str, Any]]:
    end = datetime.now().astimezone().replace(microsecond=0) - timedelta(days=LAST_VISIT_DAYS_AGO)
    leaves, visits = LEAVES_AT_START, []
    for at in range(VISITS):
        fallen = int(random.poisson(USUAL_A_DAY * DAYS_BETWEEN * leaves))
        leaves += int(random.poisson(2)) - fallen
        seen = end - timedelta(days=DAYS_BETWEEN * (VISITS - 1 - at))
        visits.append({"tag": tag, "seen_at": seen.isoformat(), "leaves": leaves, "leaves_fallen": fallen})
    return visits


def _write(path: Path, rows: list[dict[str, Any]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
