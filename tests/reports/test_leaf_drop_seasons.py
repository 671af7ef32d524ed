"""Seasons from CSV files to findings, as a grower lives through them; the bars are those that the alert must reach."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from server.collection import open_collection
from server.config import Config
from server.records.database import close_database
from tests.reports.leaf_bars import Bars, day_of, live
from tests.reports.leaf_seasons import Setting
from tests.support.server import run_leafwalk


def test_a_season_of_files_is_judged_rightly_round_by_round(tmp_path: Path) -> None:
    home, bars = tmp_path / "home", Bars()
    open_collection(Config(home))
    try:
        season = live(tmp_path / "files", Setting(), 11, bars)
    finally:
        close_database()
    print(bars.words())
    assert np.median(bars.slow) <= 5
    assert np.mean(np.array(bars.sudden) == 1) >= 0.85
    assert np.mean(bars.by_move) >= 0.8
    # One season is a small sample: its bars are set one standard deviation wide.
    assert np.mean(bars.false) <= 0.08
    assert bars.missed() <= 0.1
    assert 0.7 <= np.median(bars.loss) <= 1.4
    last = day_of(season.rounds[-1]).isoformat()
    told = json.loads(run_leafwalk(home, "alerts", "--on", last, "--json").stdout)
    drops = [item for item in told["items"] if item["kind"] == "leaf_drop"]
    assert told["on"] == last
    assert {season.kind[item["tag"]] for item in drops} >= {"slow"}
    for item in drops:
        assert abs(sum(cause["weight"] for cause in item["likely_causes"]) - 1.0) < 0.01
        assert item["loss_percent_per_day"] > item["usual_percent_per_day"] > 0


def test_a_fall_common_to_a_place_is_told_once(tmp_path: Path) -> None:
    bars, setting = Bars(), Setting(days=50, slow=0, sudden=0, moved=4, common_a_day=0.025)
    open_collection(Config(tmp_path / "home"))
    try:
        live(tmp_path / "files", setting, 12, bars)
    finally:
        close_database()
    assert bars.notices == {"Back wall"}
    assert np.mean(bars.false_here) <= 0.10
