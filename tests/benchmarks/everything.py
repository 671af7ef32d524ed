"""All reports of one day in a process of its own: `python -m tests.benchmarks.everything HOME` prints what it took."""

from __future__ import annotations

import json
import resource
import sys
import time
from pathlib import Path

from server.collection import open_collection
from server.config import Config
from server.reports.compare import compare_report
from server.reports.hardening import hardening
from server.reports.heat import heat
from server.reports.kept import learn, write_out
from server.reports.season import season_report
from server.reports.season_settings import weighing
from server.reports.tree_seasons import tree_years
from tests.support.large_home import ON


def everything(home: Path) -> dict[str, float]:
    """Load once and judge once, then lay out findings, trends, paces, crops, comparison, review, heat and plans."""
    open_collection(Config(home))
    wall, cpu = time.perf_counter(), time.process_time()
    state = learn(ON)
    written = [write_out(state, {"on": ON.isoformat()})]
    figures = weighing()
    years = tree_years(state.collection, state.whole.judged, figures.damaged_percent)
    reports = compare_report(years), season_report(years, figures), heat(ON), hardening(ON, collection=state.collection)
    written += [json.dumps(report.document()) for report in reports]
    return {
        "wall_s": time.perf_counter() - wall,
        "cpu_s": time.process_time() - cpu,
        "resident_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "trees": float(len(state.collection.trees)),
        "visits": float(state.collection.visits.count.sum()),
        "written_mb": sum(map(len, written)) / 2**20,
    }


if __name__ == "__main__":
    print(json.dumps(everything(Path(sys.argv[1]))))
