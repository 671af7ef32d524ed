"""The server is killed at random moments under load: every change and photo that it acknowledged is there afterwards.

`pytest -n 0 -m benchmark -s tests/test_power_cut.py` kills it two hundred times.
"""

from __future__ import annotations

import hashlib
import http.client
import io
import json
import random
import sqlite3
import sys
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from server import home_lock
from server.collection import open_collection
from server.config import Config
from server.keeping.checking import check
from server.records import devices
from server.records.database import close_database
from tests.support.killable import KillableServer

if sys.platform == "win32":
    pytest.skip("the server is forked", allow_module_level=True)

PHONES, CHANGES_MAX, LOAD_S_MAX = 3, 60, 0.5
SEEN = "2026-05-03T08:30:00+02:00"


class LoadedPhone:
    """Sends changes and photos one after the other until the server is gone, and sends again what got no answer."""

    def __init__(self, name: str, seed: int) -> None:
        self._rng = random.Random(seed)
        self._token = devices.pair(devices.new_pairing()[0], name)[1]
        self._tag_place = str(uuid.uuid4())
        self._n = 0
        self._unanswered: list[dict[str, Any]] = [self._change("place", self._tag_place, place=name)]
        self._photo: bytes | None = None
        self.acknowledged: set[str] = set()
        self.photos: set[str] = set()

    def load(self, address: str) -> None:
        """Send until the connection breaks."""
        with suppress(OSError, http.client.HTTPException), closing(http.client.HTTPConnection(address)) as connection:
            while True:
                self._sync(connection)
                if self._rng.random() < 0.3:
                    self._send_photo(connection)

    def _sync(self, connection: http.client.HTTPConnection) -> None:
        if not self._unanswered:
            count = self._rng.randint(1, CHANGES_MAX)
            self._unanswered = [
                self._change("reading", place=self._tag_place, date=f"2025-03-{1 + n % 28:02}", t_min_c=n % 40)
                for n in range(count)
            ]
        body = {"protocol": 1, "epoch": None, "cursor": "0", "limit": 1, "changes": self._unanswered}
        told = json.loads(self._ask(connection, "POST", "/api/v1/sync", json.dumps(body).encode()))
        assert {each["outcome"] for each in told["results"]} <= {"stored", "duplicate"}, told
        self.acknowledged |= {each["id"] for each in told["results"]}
        self._unanswered = []

    def _send_photo(self, connection: http.client.HTTPConnection) -> None:
        self._photo = self._photo or _picture(self._rng)
        sha256 = hashlib.sha256(self._photo).hexdigest()
        self._ask(connection, "PUT", f"/api/v1/photos/{sha256}", self._photo)
        self.photos.add(sha256)
        self._photo = None

    def _ask(self, connection: http.client.HTTPConnection, method: str, path: str, body: bytes) -> bytes:
        headers = {"Authorization": f"Bearer {self._token}", "Content-Type": "application/json"}
        connection.request(method, path, body, headers)
        answer = connection.getresponse()
        data = answer.read()
        assert answer.status in (200, 201), (answer.status, data)
        return data

    def _change(self, kind: str, record: str | None = None, **fields: Any) -> dict[str, Any]:
        self._n += 1
        identity = {"id": str(uuid.uuid4()), "n": self._n, "kind": kind, "record": record or str(uuid.uuid4())}
        return {**identity, "edited_at": SEEN, "set": fields}


def _picture(rng: random.Random) -> bytes:
    out = io.BytesIO()
    Image.frombytes("RGB", (64, 48), rng.randbytes(64 * 48 * 3)).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def server(home: Path) -> Iterator[KillableServer]:
    server = KillableServer(home)
    yield server
    server.close()
    close_database()
    home_lock.leave()


def cut_the_power(server: KillableServer, home: Path, times: int, seed: int, check_every: int) -> str:
    """Kill the server so many times, and look each time what it kept; a sentence with the figures."""
    open_collection(Config(home))
    rng = random.Random(seed)
    phones = [LoadedPhone(f"phone {number}", seed + number) for number in range(PHONES)]
    for cut in range(times):
        address = server.start()
        threads = [threading.Thread(target=phone.load, args=(address,)) for phone in phones]
        for thread in threads:
            thread.start()
        time.sleep(rng.uniform(0, LOAD_S_MAX))
        server.kill()
        for thread in threads:
            thread.join()
        with closing(sqlite3.connect(home / "leafwalk.db")) as opened:
            changes = {row[0] for row in opened.execute("SELECT id FROM change_log")}
            photos = {row[0] for row in opened.execute("SELECT sha256 FROM photo_file")}
        for phone in phones:
            assert phone.acknowledged <= changes, f"cut {cut} of seed {seed}"
            assert phone.photos <= photos, f"cut {cut} of seed {seed}"
        if (cut + 1) % check_every == 0:
            found = check(Config(home))
            assert found.faults == [], f"cut {cut} of seed {seed}"
    acknowledged = sum(len(phone.acknowledged) for phone in phones)
    kept = sum(len(phone.photos) for phone in phones)
    assert acknowledged and kept
    return (
        f"{times} cuts: {acknowledged} acknowledged changes and {kept} photos, all there ({found.changes} in the log)"
    )


def test_what_was_acknowledged_is_there_after_a_kill(server: KillableServer, home: Path) -> None:
    cut_the_power(server, home, 8, seed=1, check_every=1)


@pytest.mark.benchmark
def test_two_hundred_power_cuts(server: KillableServer, home: Path) -> None:
    print(f"\n{cut_the_power(server, home, 200, seed=2, check_every=20)}")
