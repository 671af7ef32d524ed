"""What the server takes of a small computer while it rests with the demonstration collection."""

from __future__ import annotations

import json
import time
import urllib.request
from pathlib import Path

import psutil
import pytest

from tests.support.server import run_leafwalk, start_server, stop_server

RESIDENT_MB_MAX = 150


@pytest.mark.benchmark
def test_the_server_rests_small(tmp_path: Path) -> None:
    home = tmp_path / "home"
    done = run_leafwalk(home, "demo", "--no-serve")
    assert done.returncode == 0, done.stderr
    server = start_server(home, 0)
    try:
        body = json.dumps({"code": server.pair(), "device_name": "meter"}).encode()
        headers = {"Content-Type": "application/json"}
        request = urllib.request.Request(f"{server.url}/api/v1/pair", body, headers)
        token = json.load(urllib.request.urlopen(request))["token"]
        for path in ("overview", "reports/alerts", "reports/trends"):
            asked = urllib.request.Request(f"{server.url}/api/v1/{path}", headers={"Authorization": f"Bearer {token}"})
            urllib.request.urlopen(asked, timeout=60).read()
        time.sleep(2)
        resident_mb = psutil.Process(server.process.pid).memory_info().rss / 2**20
    finally:
        stop_server(server.process)
    print(f"\nresident after overview, alerts and trends: {resident_mb:.0f} MB")
    assert resident_mb < RESIDENT_MB_MAX
