"""Syncing, measured beside general-purpose stores that take records in over HTTP, and beside bare SQLite.

What each store's device is asked to do stands in `protocols.py`. PouchDB is judged by its own client, which also keeps
what it sends and gets in a store in memory; the same protocol spoken by nothing else than this process is printed
beside it. All take turns, round by round, so that a machine that slows down slows all. The times of one device count
from the first request to the last decoded answer.
"""

from __future__ import annotations

import json
import socket
import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from functools import partial
from itertools import count
from pathlib import Path
from typing import Any

import orjson
import pytest

from server import ids
from tests.benchmarks.peers import Client, kinto, pouchdb, replicated
from tests.benchmarks.protocols import KintoDevice, Phone, PouchDevice
from tests.support.server import LiveServer

ROWS = 5000
TREES = 300
ROUNDS = 5
DEVICES, DEVICE_ROWS, SEASON = 20, 200, 40

Times = tuple[float, float]  # seconds to push and to pull


@pytest.fixture(autouse=True)
def _closed_connections() -> Iterator[None]:
    yield
    Client.close_all()


def _rows(trees: list[str], count: int = ROWS) -> list[dict[str, Any]]:
    return [
        {
            **{
                "tree": trees[n % len(trees)],
                "seen_at": f"2025-05-{1 + n // 300:02d}T08:{n // 60 % 60:02d}:{n % 60:02d}+02:00",
            },
            **{"shoots": 12, "leaves_per_shoot": 5.5, "leaves_fallen": n % 4, "soil": "moist", "note": "fine"},
        }
        for n in range(count)
    ]


def _walk(trees: list[str], number: int) -> list[dict[str, Any]]:
    """The visits of one walk past DEVICE_ROWS of the trees; walks are a day apart."""
    day = (date(2025, 4, 1) + timedelta(days=number)).isoformat()
    rows = _rows(trees[number * 31 % TREES :] + trees, DEVICE_ROWS)
    return [{**row, "seen_at": day + row["seen_at"][10:]} for row in rows]


def _seconds(action: Callable[[], Any]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _timed(push: Callable[[], Any], pull: Callable[[], int], count: int = ROWS) -> Times:
    got: list[int] = []
    times = _seconds(push), _seconds(lambda: got.append(pull()))
    assert got == [count]
    return times


def _docs() -> list[dict[str, Any]]:
    return [{"_id": ids.new_id(), **row} for row in _rows([ids.new_id() for _ in range(TREES)])]


def _planted(server: LiveServer) -> tuple[Phone, list[str]]:
    """A phone that brought the trees home, and their ids; observations must name a tree that is there."""
    phone = Phone(server)
    trees = phone.changes("tree", [{"tag": ids.new_tag_code()} for _ in range(TREES)])
    phone.push(trees)
    return phone, [each["record"] for each in trees]


def _ours(server: LiveServer, push_size: int, pull_limit: int) -> Times:
    """5,000 observations pushed, and all there is pulled by a new device: 300 trees more."""
    phone, trees = _planted(server)
    changes = phone.changes("observation", _rows(trees))
    other = Phone(server)
    return _timed(lambda: phone.push(changes, push_size), lambda: other.pull(pull_limit), ROWS + TREES)


def _kinto(url: str) -> Times:
    device = KintoDevice(url)
    rows = _rows([ids.new_id() for _ in range(TREES)])
    return _timed(lambda: device.push(rows), device.pull)


def _replicating(url: str) -> Times:
    device, docs = PouchDevice(url), _docs()
    return _timed(lambda: device.push(docs), device.pull)


def _in_bulk(url: str) -> Times:
    device, docs = PouchDevice(url), _docs()
    return _timed(lambda: device.push_in_bulk(docs), device.pull_in_bulk)


def _bare_sqlite(path: Path) -> float:
    rows = [{"id": ids.new_id(), **row} for row in _rows([ids.new_id() for _ in range(TREES)])]
    text = json.dumps(rows)
    database = sqlite3.connect(path)
    database.execute("PRAGMA journal_mode=WAL")
    names = list(rows[0])
    database.execute(f"CREATE TABLE o ({', '.join(names)}, PRIMARY KEY (id))")
    marks = ", ".join("?" * len(names))

    def push() -> None:
        with database:
            database.executemany(f"INSERT INTO o VALUES ({marks})", [tuple(row.values()) for row in orjson.loads(text)])

    taken = _seconds(push)
    database.close()
    return taken


def _times_as_fast(ours: Times, peers: list[Times], way: int) -> float:
    return min(each[way] for each in peers) / ours[way]


@pytest.mark.benchmark
def test_push_and_pull_beside_general_stores(launch_server: Callable[..., LiveServer], tmp_path: Path) -> None:
    runs: dict[str, list[Times]] = {}

    def noted(name: str, times: Times) -> None:
        runs.setdefault(name, []).append(times)

    with kinto(tmp_path, _free_port()) as records, pouchdb(tmp_path, _free_port()) as docs:
        for n in range(ROUNDS):
            noted("ours, as the phone does", _ours(launch_server(tmp_path / f"phone{n}"), 500, 2000))
            noted("ours, in one request", _ours(launch_server(tmp_path / f"whole{n}"), 5000, 5000))
            noted("Kinto", _kinto(records))
            noted("PouchDB's own client", replicated(tmp_path, f"{docs}/r{n}", _docs()))
            noted("PouchDB's protocol", _replicating(docs))
            noted("PouchDB in bulk (no sync)", _in_bulk(docs))
    bare_s = min(_bare_sqlite(tmp_path / f"bare{n}.db") for n in range(ROUNDS))
    best = {name: tuple(min(column) for column in zip(*times, strict=True)) for name, times in runs.items()}
    print(f"\n{ROWS} observations, the best of each, in seconds")
    for name, (push_s, pull_s) in best.items():
        print(f"{name:>26}: pushed in {push_s:.3f}, pulled in {pull_s:.3f}")
    ours = best["ours, as the phone does"]
    peers = [best["Kinto"], best["PouchDB's own client"]]
    push_ratio, pull_ratio = (_times_as_fast(ours, peers, way) for way in (0, 1))
    print(f"as the phone does: push {push_ratio:.1f} times, pull {pull_ratio:.1f} times as fast as the fastest peer")
    alone = _times_as_fast(ours, [best["PouchDB's protocol"]], 0)
    print(f"and push {alone:.1f} times as fast as PouchDB's protocol alone")
    one_s = best["ours, in one request"][0]
    print(
        f"bare executemany with its JSON decoded: {bare_s:.3f} s, our one request takes {one_s / bare_s:.1f} times that"
    )
    assert push_ratio >= 5
    assert pull_ratio >= 2


def _stocked(server: LiveServer) -> tuple[Phone, list[str]]:
    """A phone that brought 300 trees and SEASON walks home, and the trees' ids."""
    phone, trees = _planted(server)
    for number in range(SEASON):
        phone.push(phone.changes("observation", _walk(trees, number)))
    phone.overview()
    return phone, trees


@pytest.mark.benchmark
def test_twenty_devices_at_once(launch_server: Callable[..., LiveServer], tmp_path: Path) -> None:
    """Twenty phones each bring a walk of 200 trees home, and get what the others brought and what home computed of it.

    That is a phone's whole sync (`webclient/sync/run.js`, then `GET /overview`). What it takes without the overview is
    printed beside it.
    """
    first, trees = _stocked(launch_server(tmp_path / "home"))
    phones = [first, *(Phone(first.server) for _ in range(DEVICES - 1))]
    numbers = count(SEASON)

    def sync(phone: Phone, walk: list[dict[str, Any]], computed: bool) -> None:
        phone.push(walk)
        if computed:
            phone.overview()

    def next_sync(phone: Phone, computed: bool) -> Callable[[], None]:
        return partial(sync, phone, phone.changes("observation", _walk(trees, next(numbers))), computed)

    for name, computed in (("without the overview", False), ("the whole sync", True)):
        alone_s = statistics.median(list(map(_seconds, [next_sync(first, computed) for _ in range(5)])))
        for phone in phones:
            phone.pull()
        work = [next_sync(phone, computed) for phone in phones]
        with ThreadPoolExecutor(DEVICES) as pool:
            late_s = sorted(pool.map(_seconds, work))[int(DEVICES * 0.95) - 1]
        print(
            f"\n{name}: one device {alone_s * 1000:.0f} ms, {DEVICES} at once: 95 % within {late_s * 1000:.0f} ms,"
            f" {late_s / alone_s:.1f} times"
        )
    assert late_s < 5 * alone_s
