"""Five thousand counts pushed and pulled, side by side with general-purpose stores and with bare SQLite."""

from __future__ import annotations

import base64
import json
import socket
import sqlite3
import statistics
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from server import ids
from tests.benchmarks.peers import Client, kinto, pouchdb
from tests.support.server import LiveServer

ROWS = 5000
TREES = 300
ROUNDS = 3
KINTO_BATCH = 25  # its own default, and faster here than 500
DEVICES, DEVICE_ROWS = 20, 200


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


def _seconds(action: Callable[[], Any]) -> float:
    start = time.perf_counter()
    action()
    return time.perf_counter() - start


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class _Phone:
    """A device on the real server, over HTTP."""

    def __init__(self, server: LiveServer) -> None:
        paired = Client(server.url).call("POST", "/api/v1/pair", {"code": server.pair(), "device_name": "bench"})
        self.client = Client(server.url, {"Authorization": f"Bearer {paired['token']}"})
        self.n = 0

    def changes(self, kind: str, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
        made = []
        for row in rows:
            self.n += 1
            stamp = {"n": self.n, "kind": kind, "record": ids.new_id(), "edited_at": "2025-05-20T08:30:00+02:00"}
            made.append({"id": ids.new_id(), **stamp, "set": row})
        return made

    def push(self, changes: list[dict[str, Any]]) -> None:
        body = {"protocol": 1, "epoch": None, "cursor": None, "limit": 1, "changes": changes}
        answer = self.client.call("POST", "/api/v1/sync", body)
        assert {each["outcome"] for each in answer["results"]} == {"stored"}

    def pull(self) -> int:
        epoch, cursor, count, more = None, None, 0, True
        while more:
            body = {"protocol": 1, "epoch": epoch, "cursor": cursor, "limit": ROWS, "changes": []}
            answer = self.client.call("POST", "/api/v1/sync", body)
            epoch, cursor, more = answer["epoch"], answer["cursor"], answer["more"]
            count += len(answer["records"])
        return count


def _ours(launch_server: Callable[..., LiveServer], home: Path) -> tuple[float, float]:
    """Seconds to push 5,000 observations, and for a new device to pull all there is (300 trees more)."""
    server = launch_server(home)
    phone = _Phone(server)
    trees = phone.changes("tree", [{"tag": ids.new_tag_code()} for _ in range(TREES)])
    phone.push(trees)
    changes = phone.changes("observation", _rows([each["record"] for each in trees]))
    push_s = _seconds(lambda: phone.push(changes))
    other = _Phone(server)
    pulled: list[int] = []
    pull_s = _seconds(lambda: pulled.append(other.pull()))
    assert pulled == [ROWS + TREES]
    return push_s, pull_s


def _kinto(url: str) -> tuple[float, float]:
    basic = "Basic " + base64.b64encode(b"bench:mark").decode()
    client = Client(url.removesuffix("/v1"), {"Authorization": basic})
    bucket = f"/v1/buckets/b{uuid.uuid4().hex}"
    client.call("PUT", bucket)
    client.call("PUT", f"{bucket}/collections/o")
    rows = _rows([ids.new_id() for _ in range(TREES)])
    place = f"{bucket.removeprefix('/v1')}/collections/o/records"

    def push() -> None:
        for at in range(0, ROWS, KINTO_BATCH):
            part = [{"path": f"{place}/{ids.new_id()}", "body": {"data": row}} for row in rows[at : at + KINTO_BATCH]]
            answer = client.call("POST", "/v1/batch", {"defaults": {"method": "PUT"}, "requests": part})
            assert {each["status"] for each in answer["responses"]} == {201}

    pulled: list[Any] = []
    push_s = _seconds(push)
    pull_s = _seconds(lambda: pulled.append(client.call("GET", f"{bucket}/collections/o/records?_limit={ROWS}")))
    assert len(pulled[0]["data"]) == ROWS
    return push_s, pull_s


def _pouchdb(url: str) -> tuple[float, float]:
    client, name = Client(url), f"/o{uuid.uuid4().hex}"
    client.call("PUT", name)
    docs = [{"_id": ids.new_id(), **row} for row in _rows([ids.new_id() for _ in range(TREES)])]
    pulled: list[Any] = []
    push_s = _seconds(lambda: client.call("POST", f"{name}/_bulk_docs", {"docs": docs}))
    pull_s = _seconds(lambda: pulled.append(client.call("GET", f"{name}/_all_docs?include_docs=true")))
    assert len(pulled[0]["rows"]) == ROWS
    return push_s, pull_s


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
            database.executemany(f"INSERT INTO o VALUES ({marks})", [tuple(row.values()) for row in json.loads(text)])

    taken = _seconds(push)
    database.close()
    return taken


@pytest.mark.benchmark
def test_push_and_pull_beside_general_stores(launch_server: Callable[..., LiveServer], tmp_path: Path) -> None:
    ours = [_ours(launch_server, tmp_path / f"home{n}") for n in range(ROUNDS)]
    bare = min(_bare_sqlite(tmp_path / f"bare{n}.db") for n in range(ROUNDS))
    with kinto(tmp_path, _free_port()) as url:
        kintos = [_kinto(url)]
    with pouchdb(tmp_path, _free_port()) as url:
        pouches = [_pouchdb(url) for _ in range(ROUNDS)]
    best = {"leafwalk": ours, "Kinto": kintos, "PouchDB": pouches}
    shown = {name: tuple(min(column) for column in zip(*runs, strict=True)) for name, runs in best.items()}
    for name, (push_s, pull_s) in shown.items():
        print(f"\n{name}: {ROWS} pushed in {push_s:.3f} s, pulled in {pull_s:.3f} s", end="")
    push_s, pull_s = shown["leafwalk"]
    push_ratio = min(shown["Kinto"][0], shown["PouchDB"][0]) / push_s
    pull_ratio = min(shown["Kinto"][1], shown["PouchDB"][1]) / pull_s
    print(f"\npush {push_ratio:.1f} times, pull {pull_ratio:.1f} times as fast as the faster of the two")
    print(f"bare executemany with its JSON decoded: {bare:.3f} s, ours takes {push_s / bare:.1f} times that")
    assert push_ratio >= 5
    assert pull_ratio >= 2


@pytest.mark.benchmark
def test_twenty_devices_at_once(launch_server: Callable[..., LiveServer], tmp_path: Path) -> None:
    server = launch_server(tmp_path / "home")
    first = _Phone(server)
    trees = first.changes("tree", [{"tag": ids.new_tag_code()} for _ in range(TREES)])
    first.push(trees)
    rows = _rows([each["record"] for each in trees], DEVICE_ROWS)
    alone = statistics.median(_seconds(lambda: first.push(first.changes("observation", rows))) for _ in range(9))
    phones = [first, *(_Phone(server) for _ in range(DEVICES - 1))]
    batches = [[phone.changes("observation", rows) for _ in range(3)] for phone in phones]

    def work(n: int) -> list[float]:
        return [_seconds(lambda changes=changes: phones[n].push(changes)) for changes in batches[n]]  # type: ignore[misc]

    with ThreadPoolExecutor(DEVICES) as pool:
        taken = sorted(each for times in pool.map(work, range(DEVICES)) for each in times)
    late = taken[int(len(taken) * 0.95)]
    print(
        f"\none device {alone * 1000:.0f} ms, {DEVICES} at once: 95 % within {late * 1000:.0f} ms,"
        f" {late / alone:.1f} times"
    )
    assert late < 5 * alone
