"""Many seasons of several kinds from CSV files to findings, with the figures printed."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from server.collection import open_collection
from server.config import Config
from server.records.database import close_database
from tests.reports.leaf_bars import Bars, live
from tests.reports.leaf_seasons import Setting

WHOLE = Setting(days=130)
KINDS = {
    "as written": WHOLE,
    "growing": replace(WHOLE, growth_a_day=0.03),
    "badly counted": replace(WHOLE, count_cv=0.1, missed_share=0.25),
    "few trees": replace(WHOLE, trees=20, slow=3, sudden=3, moved=3),
    "nobody counted the fallen": replace(WHOLE, counted=False),
    "common fall": replace(WHOLE, slow=3, sudden=3, common_a_day=0.025),
    "many moved": replace(WHOLE, moved=30),
}
SEEDS = range(40, 43)


@pytest.mark.benchmark
@pytest.mark.parametrize("kind", KINDS)
def test_bars_over_whole_seasons(kind: str, tmp_path: Path) -> None:
    bars = Bars()
    for seed in SEEDS:
        open_collection(Config(tmp_path / f"home{seed}"))
        try:
            live(tmp_path / f"files{seed}", KINDS[kind], seed, bars)
        finally:
            close_database()
    print(f"{kind}: {bars.words()}")
    assert np.mean(np.array(bars.sudden) == 1) >= 0.85
    assert np.mean(bars.false) <= 0.10
