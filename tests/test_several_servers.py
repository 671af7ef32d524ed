"""Several server processes on one PostgreSQL and one folder of photos, used by several devices through all at once."""

from __future__ import annotations

import hashlib
import http.client
import json
import random
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg
import pytest

from server import ids
from server.config import Config
from server.keeping.checking import check
from server.records import devices
from server.records.database import close_database, execute, open_database, write
from server.records.photo_files import PhotoFolder
from tests.api.test_photos import jpeg
from tests.support.collection import new_postgresql_database
from tests.support.server import API, LiveServer, start_server, stop_server

SERVERS, DEVICES, ROUNDS, BATCH = 3, 6, 8, 12
TRIES_MAX = 20
PAGE = 25


@dataclass
class Fleet:
    """The servers of one collection, each with a home of its own, as on a machine of its own."""

    address: str
    photos: Path
    servers: list[LiveServer]


@pytest.fixture
def fleet(postgresql: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Fleet]:
    """Servers that were started together on an empty database, whose own default would have writers fail."""
    address, photos = new_postgresql_database(postgresql), tmp_path / "photos"
    name = address.split("/")[3].split("?", maxsplit=1)[0]
    photos.mkdir()
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"ALTER DATABASE {name} SET default_transaction_isolation = 'serializable'")
    monkeypatch.setenv("LEAFWALK_DATABASE", address)
    monkeypatch.setenv("LEAFWALK_PHOTOS", str(photos))
    with ThreadPoolExecutor(SERVERS) as pool:
        servers = list(pool.map(lambda number: start_server(tmp_path / f"home{number}", 0), range(SERVERS)))
    open_database(address)
    yield Fleet(address, photos, servers)
    close_database()
    for server in servers:
        stop_server(server.process)
    with psycopg.connect(postgresql, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


@dataclass
class Phone:
    """A device that talks to any of the servers, pulls with one cursor all along, and keeps what it pulled."""

    servers: list[LiveServer]
    token: str
    seed: int
    n: int = 0
    cursor: str | None = None
    epoch: str | None = None
    held: dict[str, dict[str, Any]] = field(default_factory=dict)
    refused_for_now: int = 0

    def ask(self, server: int, method: str, path: str, body: bytes = b"") -> tuple[int, dict[str, str], bytes]:
        """One request; a server that is too busy is asked again, as a phone does."""
        for _ in range(TRIES_MAX):
            at = self.servers[server % SERVERS].url.removeprefix("http://")
            connection = http.client.HTTPConnection(at, timeout=60)
            headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
            connection.request(method, API + path, body, headers)
            answer = connection.getresponse()
            told = answer.status, {name.lower(): value for name, value in answer.getheaders()}, answer.read()
            connection.close()
            if told[0] != 503:
                return told
            assert "retry-after" in told[1]
            self.refused_for_now += 1
            time.sleep(0.05)
        raise AssertionError(f"refused {TRIES_MAX} times: {told}")

    def change(self, kind: str, record: str | None = None, **fields: Any) -> dict[str, Any]:
        self.n += 1
        moment = ids.now().isoformat(timespec="milliseconds")
        head = {"id": ids.new_id(), "n": self.n, "kind": kind, "record": record or ids.new_id()}
        return {**head, "edited_at": moment, "set": fields}

    def sync(self, server: int, changes: list[dict[str, Any]], keep: bool = True) -> list[str]:
        """Push and pull; the outcomes. Without `keep` the answer is used for its outcomes alone, as one sent twice."""
        body = {"protocol": 1, "epoch": self.epoch, "cursor": self.cursor, "limit": PAGE, "changes": changes}
        status, _, text = self.ask(server, "POST", "/sync", json.dumps(body).encode())
        assert status == 200, text
        answer = json.loads(text)
        if keep:
            assert int(answer["cursor"]) >= int(self.cursor or 0)
            self.cursor, self.epoch = answer["cursor"], answer["epoch"]
            self.held |= {record["id"]: record for record in answer["records"]}
            self.more = answer["more"]
        return [result["outcome"] for result in answer["results"]]

    def catch_up(self, server: int) -> None:
        """Pull to the end."""
        self.sync(server, [])
        while self.more:
            self.sync(server, [])


def work(phone: Phone, trees: list[str]) -> int:
    """Rounds of counts and edits of trees that all edit, half of them sent to two servers at once; how many changes."""
    random_ = random.Random(phone.seed)
    with ThreadPoolExecutor(1) as second:
        for round_ in range(ROUNDS):
            batch = [
                phone.change("observation", tree=random_.choice(trees), seen_at=ids.now().isoformat(), leaves=number)
                for number in range(BATCH - 2)
            ]
            for _ in range(2):
                batch.append(phone.change("tree", random_.choice(trees), note=f"{phone.seed} {round_}"))
            to = phone.seed + round_
            again = second.submit(phone.sync, to + 1, batch, False) if random_.random() < 0.5 else None
            outcomes = [phone.sync(to, batch), *([again.result()] if again else [])]
            for each in zip(*outcomes, strict=True):
                assert sorted(each, reverse=True) == ["stored", "duplicate"][: len(each)]
    return phone.n


def test_devices_work_through_all_servers_at_once_and_nothing_is_missed(fleet: Fleet) -> None:
    phones = []
    for seed in range(DEVICES):
        token = devices.pair(devices.new_pairing("owner")[0], f"phone {seed}")[1]
        phones.append(Phone(fleet.servers, token, seed))
    trees = [phones[0].change("tree", tag=ids.new_tag_code()) for _ in range(10)]
    assert phones[0].sync(0, trees) == ["stored"] * 10
    began = time.monotonic()
    with ThreadPoolExecutor(DEVICES) as pool:
        sent = sum(pool.map(lambda phone: work(phone, [each["record"] for each in trees]), phones))
    took = time.monotonic() - began
    for phone in phones:
        phone.catch_up(phone.seed)
    fresh = Phone(fleet.servers, phones[0].token, 99)
    fresh.catch_up(1)
    assert len(fresh.held) == 10 + DEVICES * ROUNDS * (BATCH - 2)
    for phone in phones:
        assert phone.held == fresh.held
        assert phone.cursor == fresh.cursor == str(sent)
    assert [row[0] for row in execute("SELECT seq FROM change_log ORDER BY seq")] == list(range(1, sent + 1))
    assert check(Config(fleet.photos.parent / "looked-at", fleet.address)).faults == []
    busy = sum(phone.refused_for_now for phone in phones)
    print(f"\n{sent} changes of {DEVICES} devices through {SERVERS} servers in {took:.1f} s, {busy} told to come again")

    # What each server keeps in memory follows what came in through the others.
    seen = [phones[0].ask(server, "GET", "/overview") for server in range(SERVERS)]
    assert len({(headers["etag"], text) for _, headers, text in seen}) == 1
    phones[1].sync(1, [phones[1].change("place", place="Porch")])
    assert (
        len({phones[0].ask(server, "GET", "/overview")[1]["etag"] for server in range(SERVERS)} - {seen[0][1]["etag"]})
        == 1
    )

    # One photo that comes in through two servers at once is kept once, and read through the third.
    data = jpeg(320, 240)
    path = f"/photos/{hashlib.sha256(data).hexdigest()}"
    with ThreadPoolExecutor(2) as pool:
        assert {*pool.map(lambda server: phones[2].ask(server, "PUT", path, data)[0], range(2))} <= {200, 201}
    assert phones[3].ask(2, "GET", path)[2] == PhotoFolder(fleet.photos).find(path.rpartition("/")[2])
    small = {phones[3].ask(server, "GET", f"{path}?width=200")[2] for server in range(SERVERS)}
    assert len(small) == 1

    # A pairing code has its five tries in all, not at each server; what shuts a device out holds everywhere at once.
    code = devices.new_pairing()[0]
    guess = json.dumps({"code": "WRONG234", "device_name": "thief"}).encode()
    assert {phones[0].ask(server, "POST", "/pair", guess)[0] for server in range(5)} == {403}
    right = json.dumps({"code": code, "device_name": "late"}).encode()
    assert phones[0].ask(2, "POST", "/pair", right)[0] == 403
    devices.revoke("phone 5")
    assert {phones[5].ask(server, "GET", "/settings")[0] for server in range(SERVERS)} == {401}


def test_a_writer_that_holds_the_row_lets_others_be_told_to_come_again(
    postgresql: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = new_postgresql_database(postgresql)
    open_database(address)
    from server.errors import Unavailable
    from server.records import database

    quick = database.POSTGRESQL_WRITE.replace("'15s'", "'200ms'")
    monkeypatch.setattr(database, "POSTGRESQL_WRITE", quick)
    with psycopg.connect(address) as other:
        other.execute("SELECT value FROM counter WHERE name = 'seq' FOR UPDATE")
        with pytest.raises(Unavailable, match="busy"), write():
            raise AssertionError("no writer gets here")
        other.rollback()
    with write():
        assert execute("SELECT 1").fetchone() == (1,)
    close_database()
