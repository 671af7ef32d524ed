"""Pace and crop of collections in memory: time of the whole report, and how it grows with the trees."""

from __future__ import annotations

import time
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from server.records.queries import MoveRow, PlaceRow, TreeRow
from server.reports import crop, crops, lagging, pace
from server.reports.judge import Judged, judge
from server.reports.load import COUNTED, DAY_S, Collection, VisitTable, end_of

TREES, VISITS, PLACES = 10_000, 100, 40
ON = date(2026, 9, 1)
SIZES = (1_250, 2_500, 5_000)
REPORT_S_MAX = 4.0
"""On a quiet machine each takes one or two seconds; the bound leaves room for a busy one."""

pytestmark = [pytest.mark.benchmark, pytest.mark.usefixtures("sqlite_collection")]


def collection_of(trees: int, visits: int = VISITS) -> Collection:
    """Trees of 200 varieties over three springs, shoots measured at a third of the visits, one move each."""
    rng = np.random.default_rng(7)
    zone = ZoneInfo("Europe/Vienna")
    until_s = end_of(ON, zone)
    span = np.sort(rng.uniform(0, 120, (trees, visits // 3)), axis=1)
    day = np.concatenate([until_s / DAY_S - 125 - 365 * back + span for back in (2, 1, 0)], axis=1)
    heat = np.concatenate([span, span, span], axis=1) * 10.0
    vigour = rng.lognormal(0.0, 0.15, trees)[:, None]
    per_shoot = 1.0 + heat / 45.0 * vigour * rng.lognormal(0.0, 0.1, heat.shape)
    counted = {name: np.full(day.shape, np.nan) for name in COUNTED}
    counted["shoots"][:] = 6.0
    counted["leaves"][:] = np.round(6 * per_shoot)
    counted["leaves_fallen"][:] = rng.poisson(0.5, day.shape)
    some = rng.random(day.shape) < 0.3
    counted["shoot_cm"][some] = np.round(2.5 * per_shoot, 1)[some]
    counted["fruit_main"][:] = rng.poisson(15, day.shape)
    rows = [TreeRow(f"t{i}", f"{i:06d}", f"v{i % 200}", "fig", f"p{i % PLACES}", *[None] * 6) for i in range(trees)]
    places = {f"p{i}": PlaceRow(f"p{i}", f"Place {i}", "open", None, None, None, None) for i in range(PLACES)}
    moves = {
        row.id: [MoveRow(f"m{row.id}", row.id, int((day[n, -visits // 5]) * DAY_S), "", f"p{(n + 1) % PLACES}")]
        for n, row in enumerate(rows)
    }
    table = VisitTable(day, counted, np.full(trees, day.shape[1], dtype=np.int64))
    return Collection(ON, zone, until_s, rows, places, table, moves, {}, {row.id: n for n, row in enumerate(rows)})


def pace_s(collection: Collection) -> float:
    start = time.process_time()
    paced = pace.find_paces(collection)
    items = [pace.pace_item(paced, row) for row in range(len(collection.trees))]
    lagging.behind(paced)
    assert sum(item.pace != "unknown" for item in items) > 0.9 * len(items)
    return time.process_time() - start


def crop_s(judged: Judged) -> float:
    start = time.process_time()
    found = crops.find_crops(judged)
    report = crop.crop_report(found)
    crop.overloaded(found)
    assert sum(item.surplus is not None for item in report.items) > 0.7 * len(report.items)
    return time.process_time() - start


def test_pace_of_10_000_trees() -> None:
    took_s = pace_s(collection_of(TREES))
    print(f"pace of {TREES} trees with {VISITS} visits: {took_s:.2f} s")
    assert took_s < REPORT_S_MAX


def test_crop_of_10_000_trees() -> None:
    # Few visits make the trend that the crop rests on quick; the crop's own work is the same.
    took_s = crop_s(judge(collection_of(TREES, 30)))
    print(f"crop of {TREES} trees: {took_s:.2f} s")
    assert took_s < REPORT_S_MAX


def test_pace_grows_no_worse_than_linearly() -> None:
    pace_s(collection_of(SIZES[0]))
    times = [min(pace_s(collection) for _ in range(2)) for collection in map(collection_of, SIZES)]
    exponent = float(np.polyfit(np.log(SIZES), np.log(times), 1)[0])
    told = ", ".join(f"{size} trees {took:.2f} s" for size, took in zip(SIZES, times, strict=True))
    print(f"pace: {told}; exponent {exponent:.2f}")
    assert exponent < 1.15
