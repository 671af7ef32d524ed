"""Homes with many trees for measuring: an invented nursery written straight into the real tables of SQLite."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import count, islice
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.collection import open_collection
from server.config import Config
from server.ids import TAG_SYMBOLS, check_character
from server.records.database import close_database, execute, execute_many, set_counter, set_setting, write

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Table = tuple[str, str, Iterable[tuple[Any, ...]]]

ON = date(2026, 9, 8)
"""The day on which large homes are looked at; their last round was the day before."""
TREES_A_PLACE = 100
VARIETIES = 60
COVERS = ("open", "glasshouse", "polytunnel", "porch")
SPECIES = ("fig", "fig", "fig", "citrus", "pomegranate", "peach")
ROUND_DAYS = 4
SEASON_DAYS = 365
DROPPING_SHARE = 0.03
READING_DAYS, FORECAST_DAYS = 560, 10
ROWS_AT_ONCE = 20_000


@dataclass(frozen=True)
class Grown:
    """What was counted, arrays of shape (trees, visits), NaN where not; `place` a tree (trees,)."""

    at_s: Ints
    leaves: Floats
    fallen: Floats
    shoot_cm: Floats
    fruit: Floats
    place: Ints


def tree_id(number: int) -> str:
    """The record id of a tree of such a home."""
    return str(uuid.UUID(int=(1 << 96) + number))


def place_id(number: int) -> str:
    """The record id of a place of such a home."""
    return str(uuid.UUID(int=(2 << 96) + int(number)))


def build_home(home: Path, trees: int, visits: int = 100) -> None:
    """Make a collection of `trees` trees with so many visits each over two seasons, moves, work, harvests, readings."""
    open_collection(Config(home))
    rng = np.random.default_rng(trees)
    grown = _grown(rng, trees, visits)
    seq = count(1)
    with write():
        set_setting("time_zone", "Europe/Vienna")
        for kind, columns, rows in _tables(rng, grown):
            _insert(kind, columns, rows, seq)
        set_counter(next(seq) - 1)
    execute("ANALYZE")
    close_database()


def _insert(kind: str, columns: str, rows: Iterable[tuple[Any, ...]], seq: Iterator[int]) -> None:
    """Write rows that begin with the id, in chunks, each with the next number."""
    fields = f"seq, voided, id, {columns}"
    marks = ", ".join("?" * (fields.count(",") + 1))
    stream = ((next(seq), False, *row) for row in rows)
    while part := list(islice(stream, ROWS_AT_ONCE)):
        execute_many(f"INSERT INTO {kind} ({fields}) VALUES ({marks})", part)


def _grown(rng: np.random.Generator, trees: int, visits: int) -> Grown:
    """Let trees grow by half a year of rounds in each of two years, the trees of a place walked on one day."""
    places = max(trees // TREES_A_PLACE, 1)
    place = np.arange(trees) % places
    a_year = visits // 2
    until = int(datetime(ON.year, ON.month, ON.day, 6, tzinfo=UTC).timestamp())
    rounds = (np.arange(visits) - visits + 1) * ROUND_DAYS
    rounds[: visits - a_year] -= SEASON_DAYS - a_year * ROUND_DAYS
    day = rounds + rng.integers(-1, 1, (places, visits))
    at_s = until + day[place] * 86_400 + np.arange(trees)[:, None] % TREES_A_PLACE * 60
    weeks = np.where(np.arange(visits) < visits - a_year, np.arange(visits), np.arange(visits) - visits + a_year)
    vigour = rng.lognormal(0.0, 0.2, trees)[:, None]
    heat = 1.0 + 10.0 * ROUND_DAYS * weeks[None, :]
    shoots = 6.0 * np.maximum(1.0 - np.exp(-weeks / 10.0), 0.2)[None, :]
    per_shoot = 1.0 + 14.0 * (1.0 - np.exp(-heat / 900.0)) * vigour
    usual = 0.003 * rng.gamma(6.0, 1 / 6.0, trees)[:, None] * ROUND_DAYS
    dropping = rng.random(trees)[:, None] < DROPPING_SHARE
    late = np.arange(visits)[None, :] >= visits - 4
    loss = usual + np.where(dropping & late, 0.06, 0.0)
    left = np.exp(-np.cumsum(np.where(late, loss, 0.0), axis=1))
    leaves = np.maximum(np.round(shoots * per_shoot * left * rng.lognormal(0.0, 0.03, (trees, visits))), 1.0)
    fallen = rng.poisson(leaves * loss).astype(float)
    shoot_cm = np.round(2.5 * per_shoot, 1)
    fruit = rng.poisson(np.minimum(leaves / 8.0, 12.0)).astype(float)
    return Grown(at_s, leaves, fallen, shoot_cm, fruit, place)


def _tables(rng: np.random.Generator, grown: Grown) -> Iterator[Table]:
    """All rows, kind by kind, without number and withdrawal."""
    trees, places = len(grown.place), int(grown.place.max()) + 1
    yield "variety", "variety, species", ((_id(3, v), f"V{v}", SPECIES[v % 6]) for v in range(VARIETIES))
    yield (
        "place",
        "place, cover, light_percent, heated, latitude",
        ((place_id(p), f"Place {p}", COVERS[p % 4], None, False, 48.0) for p in range(places)),
    )
    yield (
        "tree",
        "tag, variety, place, pot_litres, standing",
        ((tree_id(t), _tag(t), _id(3, t % VARIETIES), place_id(grown.place[t]), 20.0, "keeper") for t in range(trees)),
    )
    yield (
        "observation",
        "tree, at_s, seen_at, shoots, leaves_per_shoot, leaves, leaves_fallen, shoot_cm, fruit_main, damage_percent,"
        " causes, bbch, soil",
        _observations(rng, grown),
    )
    yield "move", "tree, at_s, moved_at, to_place", _moves(rng, grown, places)
    yield "work", "tree, at_s, done_at, task, amount", _works(rng, grown)
    yield "harvest", "tree, at_s, picked_at, fruit, weight_g, quality", _harvests(rng, grown)
    yield "reading", "place, date, t_min_c, t_max_c", _readings(rng, places)


def _observations(rng: np.random.Generator, grown: Grown) -> Iterator[tuple[Any, ...]]:
    """Visits as a grower notes them: leaves in full or by shoots, the rest now and then."""
    visits = grown.at_s.shape[1]
    for t in range(len(grown.place)):
        chance = rng.random((visits, 5))
        counted = zip(*(a[t].tolist() for a in (grown.at_s, grown.leaves, grown.fallen)), strict=True)
        others = zip(grown.shoot_cm[t].tolist(), grown.fruit[t].tolist(), chance.tolist(), strict=True)
        for j, ((at_s, leaves, fallen), (cm, fruit, (full, told, ill, dry, stage))) in enumerate(
            zip(counted, others, strict=True)
        ):
            by_shoots = full < 0.3
            yield (
                _id(4, t * visits + j),
                *(tree_id(t), at_s, _moment(at_s), 6),
                round(leaves / 6, 1) if by_shoots else None,
                None if by_shoots else int(leaves),
                int(fallen) if told < 0.8 else None,
                cm if told > 0.6 else None,
                int(fruit) if stage < 0.5 else None,
                round(20 * ill) if ill < 0.1 else None,
                "wind" if ill < 0.02 else None,
                7 if j in (0, visits - visits // 2) else None,
                "dry" if dry < 0.05 else None,
            )


def _moves(rng: np.random.Generator, grown: Grown, places: int) -> Iterator[tuple[Any, ...]]:
    """Out of its place and back again each year, all trees of a place on one day."""
    visits = grown.at_s.shape[1]
    number = count()
    for t, place in enumerate(grown.place.tolist()):
        for at, to in ((visits // 8, 1), (visits // 3, 0), (5 * visits // 8, 1), (5 * visits // 6, 0)):
            moment = int(grown.at_s[t, at]) + 3600
            yield _id(5, next(number)), tree_id(t), moment, _moment(moment), place_id((place + to) % places)


def _works(rng: np.random.Generator, grown: Grown) -> Iterator[tuple[Any, ...]]:
    visits = grown.at_s.shape[1]
    number = count()
    for t in range(len(grown.place)):
        for task, amount, at in (
            ("pot_up", 25.0, visits // 10),
            ("feed", None, visits // 2),
            ("water", 2.0, visits - 5),
        ):
            moment = int(grown.at_s[t, at]) + 1800
            yield _id(6, next(number)), tree_id(t), moment, _moment(moment), task, amount
        if rng.random() < 0.1:
            moment = int(grown.at_s[t, -2]) + 1800
            yield _id(6, next(number)), tree_id(t), moment, _moment(moment), "thin_main", 2.0


def _harvests(rng: np.random.Generator, grown: Grown) -> Iterator[tuple[Any, ...]]:
    visits = grown.at_s.shape[1]
    number = count()
    for t in range(len(grown.place)):
        for at in (visits // 2 - 3, visits // 2 - 1, visits - 3):
            moment = int(grown.at_s[t, at]) + 600
            weight = round(float(rng.gamma(9.0, 40.0)), 0)
            yield _id(7, next(number)), tree_id(t), moment, _moment(moment), "main", weight, int(rng.integers(2, 6))


def _readings(rng: np.random.Generator, places: int) -> Iterator[tuple[Any, ...]]:
    """Every day's temperatures with some gaps, and a mild forecast but for one frosty place."""
    number = count()
    for p in range(places):
        for back in range(READING_DAYS, -FORECAST_DAYS - 1, -1):
            on = ON - timedelta(days=back)
            if back > 0 and rng.random() < 0.05:
                continue
            middle = 11.0 - 11.0 * np.cos(2 * np.pi * (on.timetuple().tm_yday - 20) / 365) + rng.normal(0.0, 2.0)
            low = -3.0 if p == 0 and back == -2 else middle - 5.0
            yield _id(8, next(number)), place_id(p), on.isoformat(), round(low, 1), round(max(low, middle + 6.0), 1)


def _id(kind: int, number: int) -> str:
    return str(uuid.UUID(int=(kind << 96) + number))


def _tag(number: int) -> str:
    symbols = "".join(TAG_SYMBOLS[number // len(TAG_SYMBOLS) ** place % len(TAG_SYMBOLS)] for place in range(4, -1, -1))
    return symbols + check_character(symbols)


def _moment(at_s: int) -> str:
    return datetime.fromtimestamp(at_s, UTC).isoformat()
