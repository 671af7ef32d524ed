"""Trees whose records are odd but accepted: decades between counts, jumps from none to all; every report stands."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from server import ids
from server.records.database import close_database, open_database
from server.reports.catalogue import REPORTS
from server.reports.jobs import jobs
from server.reports.judge import judge
from server.reports.leafdrops import leaf_drops
from server.reports.load import load
from server.reports.overview import overview
from server.reports.tree import tree_page
from server.reports.trends import trends
from tests.support.collection import Phone

LEAVES_MAX = 2_500_000
"""More leaves than any count may say: 5000 shoots of 500."""
COUNTS = (0, 0, 1, 2, 30, 900, 5776, 99_999, 100_000)
SHOOTS = (0, 1, 30, 5000)
SPANS_S = (1, 3600, 86_400, 40 * 86_400, 3e7, 3e8)
DECADES = [
    [
        ("1929-12-03T03:14:05Z", {"shoots": 30, "leaves_per_shoot": 30}),
        ("1935-05-05T19:43:26Z", {"leaves": 0}),
        ("1938-11-28T17:57:43Z", {"leaves_fallen": 99_999}),
        ("2017-04-05T16:02:12Z", {"leaves_fallen": 5776}),
    ],
    [
        ("1991-12-14T10:00:00Z", {"shoots": 30, "leaves_per_shoot": 30}),
        ("1994-02-13T10:00:00Z", {"leaves": 0}),
        ("1995-07-19T10:00:00Z", {"leaves_fallen": 99_999}),
        ("2026-11-20T10:00:00Z", {"leaves_fallen": 5776}),
    ],
]

Visit = tuple[str, dict[str, Any]]


def moments(chance: random.Random) -> list[datetime]:
    """From 1900 to today: evenly spread, crowded at the beginning, or a burst of a second to ten years."""
    year, month, day = chance.choice([1900, 1970, 1991, 2020, 2024]), chance.randint(1, 12), chance.randint(1, 28)
    begin = datetime(year, month, day, tzinfo=UTC)
    whole_s = (ids.now() - begin).total_seconds()
    spread: Callable[[], float] = chance.choice(
        [
            lambda: chance.random() * whole_s,
            lambda: chance.random() ** 4 * whole_s,
            lambda: min(chance.random() * chance.choice(SPANS_S), whole_s),
        ]
    )
    return sorted(begin + timedelta(seconds=int(spread())) for _ in range(chance.choice([2, 3, 4, 5, 8, 12])))


def counted(chance: random.Random) -> dict[str, Any]:
    """What one visit counted, each figure within what is taken in."""
    total: dict[str, Any] = chance.choice(
        [
            {"leaves": chance.choice(COUNTS)},
            {"shoots": chance.choice(SHOOTS), "leaves_per_shoot": chance.choice([0, 0.1, 30, 500])},
            {"shoot_leaves": chance.choice(["5;6;;7", "0", "500;500", "0;0;0", "1;;;;;;;;;;;500"])},
            {},
        ]
    )
    rest = {
        "leaves_fallen": chance.choice(COUNTS),
        "damage_percent": chance.choice([0, 100]),
        "shoot_cm": chance.choice([0, 0.1, 500]),
        "fruit_main": chance.choice([0, 5000]),
        "bbch": chance.choice([0, 55, 99]),
    }
    return total | {name: value for name, value in rest.items() if chance.random() < (0.6 if "leaves" in name else 0.1)}


def odd_collection(phone: Phone, chance: random.Random) -> list[str]:
    """One to eight trees with odd timelines, now and then moved, picked and cooked; returns their ids."""
    places = [phone.change("place", place=cover, cover=cover) for cover in ("open", "glasshouse")]
    variety = phone.change("variety", variety="Amber Bell", species="fig")
    phone.send(*places, variety)
    trees = [
        phone.tree(variety=variety["record"], place=places[0]["record"]) for _ in range(chance.choice([1, 1, 2, 3]))
    ]
    changes = []
    for tree in trees:
        seen = [at.isoformat() for at in moments(chance)]
        changes += [phone.change("observation", tree=tree, seen_at=at, **counted(chance)) for at in seen]
        if chance.random() < 0.3:
            to = places[1]["record"]
            changes.append(phone.change("move", tree=tree, moved_at=chance.choice(seen), to_place=to))
        if chance.random() < 0.3:
            picked_at = chance.choice(seen)
            changes.append(phone.change("harvest", tree=tree, picked_at=picked_at, fruit="main", weight_g=100_000))
        if chance.random() < 0.3:
            day, where = chance.choice(seen)[:10], chance.choice(places)["record"]
            changes.append(phone.change("reading", place=where, date=day, t_min_c=-60, t_max_c=70))
    assert {outcome.outcome for outcome in phone.send(*changes)} == {"stored"}
    return trees


def refuse(constant: str) -> None:
    raise AssertionError(f"{constant} is no number in JSON")


def whole(document: Any) -> Any:
    """Through JSON and back, as it goes to a phone."""
    return json.loads(json.dumps(document), parse_constant=refuse)


def every_report(trees: list[str]) -> None:
    """Ask for all there is, with warnings as errors."""
    whole(overview().document)
    jobs()
    for report in REPORTS.values():
        whole(report(None).document())
    for tree in trees:
        whole(tree_page(tree, None))
    for item in trends().items:
        known = [item.leaves_high, *(point.high for point in item.series or [])]
        assert all(value is None or value <= LEAVES_MAX for value in known), item


@pytest.mark.parametrize("visits", DECADES)
def test_decades_between_four_counts_leave_the_overview_standing(sqlite_collection: str, visits: list[Visit]) -> None:
    phone = Phone()
    yard = phone.change("place", place="Yard", cover="open")
    phone.send(yard)
    tree = phone.tree(place=yard["record"])
    phone.send(*[phone.change("observation", tree=tree, seen_at=at, **figures) for at, figures in visits])
    every_report([tree])


def test_every_report_stands_on_odd_timelines(tmp_path: Path) -> None:
    for seed in range(4):
        open_database(str(tmp_path / f"{seed}.db"))
        try:
            every_report(odd_collection(Phone(), random.Random(seed)))
        except (ArithmeticError, AssertionError, ValueError, Warning) as error:
            error.add_note(f"seed {seed}")
            raise
        finally:
            close_database()


def test_a_tree_without_figures_leaves_the_findings_of_others(sqlite_collection: str) -> None:
    phone = Phone()
    now = ids.now()
    trees = [phone.tree(), phone.tree()]
    for tree in trees:
        left = 60
        for visit, lost in enumerate([0, 1, 0, 9, 9, 8]):
            left -= lost
            seen = (now - timedelta(days=4 * (5 - visit))).isoformat()
            phone.send(phone.change("observation", tree=tree, seen_at=seen, leaves=left, leaves_fallen=lost))
    judged = judge(load(None))
    assert len(leaf_drops(judged)) == 2
    own = judged.drops.own_usual.copy()
    own[0] = np.nan
    (found,) = leaf_drops(replace(judged, drops=replace(judged.drops, own_usual=own)))
    assert found.tree == judged.collection.trees[1].id
