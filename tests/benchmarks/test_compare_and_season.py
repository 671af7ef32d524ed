"""Comparison and review of a large collection in memory: time of the whole computing after loading."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from server.records.queries import PlaceRow
from server.reports import compare, season
from server.reports.judge import judge
from server.reports.load import Collection
from server.reports.season_settings import weighing
from server.reports.tree_seasons import tree_years
from tests.benchmarks.test_pace_and_crop import PLACES, TREES, VISITS, collection_of

COMPARE_S_MAX, SEASON_S_MAX = 4.0, 4.0
SIZES = (1_250, 2_500, 5_000)
EXPONENT_MAX = 1.15
COVERS = ("open", "glasshouse", "polytunnel", "porch")

pytestmark = [pytest.mark.benchmark, pytest.mark.usefixtures("sqlite_collection")]


def sheltered_collection(trees: int) -> Collection:
    """The trees of the pace's benchmark, their places under four covers."""
    made = collection_of(trees, VISITS)
    places = {
        f"p{i}": PlaceRow(f"p{i}", f"Place {i}", COVERS[i * len(COVERS) // PLACES], None, None, 48.0, None)
        for i in range(PLACES)
    }
    return replace(made, places=places)


def compare_s(collection: Collection) -> float:
    start = time.process_time()
    report = compare.compare_report(tree_years(collection))
    took_s = time.process_time() - start
    assert {item.measure for item in report.items} >= {"leaves", "growth_cm", "fruit"}
    return took_s


def test_comparison_of_10_000_trees() -> None:
    took_s = compare_s(sheltered_collection(TREES))
    print(f"\ncomparison of {TREES} trees with {VISITS} visits: {took_s:.2f} s")
    assert took_s < COMPARE_S_MAX


def test_comparison_grows_no_worse_than_linearly() -> None:
    took = [compare_s(sheltered_collection(size)) for size in SIZES]
    exponent = float(np.polyfit(np.log(SIZES), np.log(took), 1)[0])
    print(f"\ncomparison: {dict(zip(SIZES, np.round(took, 2), strict=True))}, exponent {exponent:.2f}")
    assert exponent < EXPONENT_MAX


def test_review_of_10_000_trees() -> None:
    collection = sheltered_collection(TREES)
    judged = judge(collection)
    start = time.process_time()
    report = season.season_report(tree_years(collection, judged), weighing())
    took_s = time.process_time() - start
    assert report.on == date(2026, 9, 1) and len(report.items) > 100
    print(f"\nreview of {TREES} trees with {VISITS} visits, after the alerts' own computing: {took_s:.2f} s")
    assert took_s < SEASON_S_MAX
