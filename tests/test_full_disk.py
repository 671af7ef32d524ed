"""A disk that is full: the kernel refuses every further byte, the server says so, and what was sent again is kept.

The limit on file sizes (setrlimit(2), RLIMIT_FSIZE) is set on the running server: every write beyond it fails as on a
full disk, with an error of its own (EFBIG instead of ENOSPC), and it can be lifted again.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import sys
import uuid
from typing import Any

import pytest

from server.serving import THREADS
from tests.api.test_photos import jpeg
from tests.support.server import API, LiveServer
from tests.test_bodies import ask

if sys.platform != "linux":
    pytest.skip("only Linux sets the limits of another process", allow_module_level=True)
import resource

NO_LIMIT = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
NOT_A_BYTE_MORE = (1, resource.RLIM_INFINITY)


def change(n: int, kind: str, **fields: Any) -> dict[str, Any]:
    """One change on the wire."""
    identity, record = str(uuid.uuid4()), str(uuid.uuid4())
    moment = "2025-05-03T08:30:00+02:00"
    return {"id": identity, "n": n, "kind": kind, "record": record, "edited_at": moment, "set": fields}


def test_a_full_disk_is_told_as_such_and_the_same_entries_are_kept_later(live_server: LiveServer) -> None:
    paired = ask(live_server, "POST", f"{API}/pair", json.dumps({"code": live_server.pair()}).encode())[1]
    token = paired["token"]

    def sync(*changes: dict[str, Any]) -> tuple[int, dict[str, Any]]:
        return ask(
            live_server,
            "POST",
            f"{API}/sync",
            json.dumps({"protocol": 1, "limit": 5000, "changes": changes}).encode(),
            token,
        )

    assert sync(change(1, "place", place="Porch"))[0] == 200
    long = [change(n, "place", place=f"Bench {n}", note="x" * 1500) for n in range(10, 1010)]
    assert sync(*long)[0] == 200
    stored = [each["id"] for each in sync()[1]["records"]]
    assert len(stored) == 1001
    pid = live_server.process.pid
    entry = change(2, "place", place="Yard", note="x" * 1500)
    photo = jpeg()
    path = f"{API}/photos/{hashlib.sha256(photo).hexdigest()}"

    resource.prlimit(pid, resource.RLIMIT_FSIZE, NOT_A_BYTE_MORE)
    for _ in range(2 * THREADS):
        status, problem = sync(entry)
        assert (status, problem["status"]) == (503, 503)
        assert problem["type"].endswith("/unavailable")
        assert "disk" in problem["detail"]
    assert ask(live_server, "PUT", path, photo, token)[0] == 503
    # Reading goes on, long answers too, and nothing of what was refused is there.
    answer = sync()
    assert answer[0] == 200
    assert [each["id"] for each in answer[1]["records"]] == stored

    resource.prlimit(pid, resource.RLIMIT_FSIZE, NO_LIMIT)
    assert [each["outcome"] for each in sync(entry)[1]["results"]] == ["stored"]
    # No thread's connection to the database is left in a state that fails.
    for _ in range(2 * THREADS):
        assert [each["outcome"] for each in sync(entry)[1]["results"]] == ["duplicate"]
    assert sync()[1]["records"][-1]["id"] == entry["record"]
    assert put(live_server, path, photo, token) == 201
    assert not list(live_server.home.rglob(".arriving-*"))


def put(server: LiveServer, path: str, data: bytes, token: str) -> int:
    """Send a photo; an answer without a body."""
    connection = http.client.HTTPConnection(server.url.removeprefix("http://"), timeout=60)
    connection.request("PUT", path, data, {"Authorization": f"Bearer {token}"})
    status = connection.getresponse().status
    connection.close()
    return status
