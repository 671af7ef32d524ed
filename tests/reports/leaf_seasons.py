"""Simulated seasons as a grower's CSV files, with the truth kept beside them; written from what the trade says of leaf
fall, apart from the arrays of tests/analysis/seasons.py.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from server import ids

PLACES = (("Back wall", "open"), ("Frame house", "glasshouse"), ("Terrace", "open"))
FIRST = date(2024, 4, 20)
USUAL_A_DAY, USUAL_CV = 0.003, 0.4
SLOW_A_DAY = 0.011
FOUND_SHARE = 0.85


@dataclass(frozen=True)
class Setting:
    """How a season is made; `growth_a_day` fades from its first day, `common_a_day` is what place 0 sheds late."""

    trees: int = 60
    days: int = 80
    leaves_median: float = 100.0
    missed_share: float = 0.15
    count_cv: float = 0.04
    counted: bool = True
    growth_a_day: float = 0.0
    slow: int = 8
    sudden: int = 8
    moved: int = 8
    common_a_day: float = 0.0


@dataclass(frozen=True)
class Season:
    """What happened: `kind` (sound, slow, sudden), day of the trouble and days of the visits, by tag; round days."""

    kind: dict[str, str]
    trouble_day: dict[str, int]
    visits: dict[str, list[int]]
    place: dict[str, str]
    rounds: list[int]


def write_season(folder: Path, setting: Setting, seed: int) -> Season:
    """Simulate day by day, write the files into `folder`, and give the truth; one seed, one season."""
    rng = np.random.default_rng(seed)
    n, low, high = setting.trees, int(0.2 * setting.days), int(0.55 * setting.days)
    tags = [ids.new_tag_code() for _ in range(n)]
    kind = np.array((["slow"] * setting.slow + ["sudden"] * setting.sudden + ["sound"] * n)[:n])
    trouble_day = rng.integers(low, high, n)
    moves = np.arange(setting.slow, setting.slow + setting.sudden + setting.moved)
    place = rng.integers(0, len(PLACES), n)
    usual = USUAL_A_DAY * rng.gamma(1 / USUAL_CV**2, USUAL_CV**2, n)
    leaves = np.maximum(rng.lognormal(np.log(setting.leaves_median), 0.4, n), 30).astype(int)
    burst, growth = 1 - (1 - rng.uniform(0.2, 0.5, n)) ** 0.5, setting.growth_a_day * rng.gamma(6, 1 / 6, n)
    answers = rng.gamma(16, 1 / 16, n)
    rounds = [int(day) for day in np.cumsum(rng.integers(3, 6, setting.days)) if day < setting.days]
    ground, seen, visits = np.zeros(n, dtype=int), [], [[] for _ in range(n)]  # type: ignore[var-annotated]
    for day in range(setting.days):
        for tree in np.flatnonzero(rng.random(n) >= setting.missed_share) if day in rounds else ():
            total = max(round(leaves[tree] * (1 + setting.count_cv * rng.standard_normal())), 0)
            fallen = int(rng.binomial(ground[tree], FOUND_SHARE)) if setting.counted and visits[tree] else ""
            seen.append({"tag": tags[tree], "seen_at": moment(day, "09:00"), "leaves": total, "leaves_fallen": fallen})
            ground[tree] = 0
            visits[tree].append(day)
        since = day - trouble_day
        rate = np.where((kind == "slow") & (since >= 0), np.maximum(usual, SLOW_A_DAY), usual)
        rate += np.where((kind == "sudden") & (since >= 0) & (since < 2), burst, 0.0)
        rate += np.where((place == 0) & (day > 0.6 * setting.days), setting.common_a_day * answers, 0.0)
        lost = rng.binomial(leaves, np.clip(rate, 0, 0.9))
        leaves = leaves - lost + rng.poisson(leaves * growth * np.exp(-day / 25))
        ground += lost
    names = [PLACES[index][0] for index in place]
    carried = [
        {"tag": tags[i], "moved_at": moment(int(trouble_day[i]), "15:00"), "to_place": PLACES[(place[i] + 1) % 3][0]}
        for i in moves
    ]
    write(folder / "varieties.csv", [{"variety": "Lanternfoot", "species": "fig"}])
    write(folder / "places.csv", [{"place": name, "cover": cover, "latitude": 48} for name, cover in PLACES])
    write(
        folder / "trees.csv",
        [{"tag": t, "variety": "Lanternfoot", "place": p} for t, p in zip(tags, names, strict=True)],
    )
    write(folder / "observations.csv", seen)
    write(folder / "moves.csv", carried)
    by_tag = [dict(zip(tags, values, strict=True)) for values in (kind.tolist(), trouble_day.tolist(), visits, names)]
    return Season(*by_tag, rounds)  # type: ignore[arg-type]


def moment(day: int, clock: str) -> str:
    """A moment of the season as the files have it."""
    return f"{FIRST + timedelta(days=day)}T{clock}:00+00:00"


def write(path: Path, rows: list[dict[str, Any]]) -> None:
    """One CSV file."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", newline="") as file:
        out = csv.DictWriter(file, list(rows[0]))
        out.writeheader()
        out.writerows(rows)
