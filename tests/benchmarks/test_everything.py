"""Everything that is computed, for up to 10,000 trees with 100 visits each, out of a home's database.

Times are the process's own, so that a busy machine does not blur them; the wall clock is printed beside them.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from server.records.database import close_database
from tests.support.large_home import build_home

SIZES = (1_000, 3_000, 10_000)
CPU_S_MAX, RESIDENT_MB_MAX, EXPONENT_MAX = 20.0, 1000.0, 1.0
MEASURED_TIMES = 2
ROOT = Path(__file__).parents[2]

pytestmark = pytest.mark.benchmark


def measured(home: Path) -> dict[str, float]:
    """The best of a few runs, each in a fresh process."""
    runs = []
    for _ in range(MEASURED_TIMES):
        command = [sys.executable, "-m", "tests.benchmarks.everything", str(home)]
        done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, check=True)
        runs.append(json.loads(done.stdout))
    return min(runs, key=lambda run: float(run["cpu_s"]))


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[int, dict[str, float]]]:
    """What each size takes."""
    found = {}
    for size in SIZES:
        home = tmp_path_factory.mktemp(f"trees{size}") / "home"
        build_home(home, size)
        found[size] = measured(home)
        told = ", ".join(f"{name} {value:.1f}" for name, value in found[size].items())
        print(f"\neverything for {size} trees: {told}")
    yield found
    close_database()


def test_everything_for_10_000_trees(runs: dict[int, dict[str, float]]) -> None:
    run = runs[SIZES[-1]]
    assert (run["trees"], run["visits"]) == (10_000, 1_000_000)
    assert run["cpu_s"] < CPU_S_MAX
    assert run["resident_mb"] < RESIDENT_MB_MAX


def test_it_grows_no_worse_than_linearly(runs: dict[int, dict[str, float]]) -> None:
    times = [runs[size]["cpu_s"] for size in SIZES]
    exponent = float(np.polyfit(np.log(SIZES), np.log(times), 1)[0])
    last = float(np.log(times[-1] / times[-2]) / np.log(SIZES[-1] / SIZES[-2]))
    print(f"\nexponent {exponent:.2f} over three sizes, {last:.2f} between the two largest")
    assert exponent <= EXPONENT_MAX
