"""The application under test: in this process for its routes, and as the real command in a process of its own."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from server import ids
from server.app import create_app
from server.config import Config
from server.records import devices
from server.records.database import close_database
from tests.support.forked import Forked

API = "/api/v1"
START_S_MAX = 20


@dataclass
class Visitor:
    """A device that calls the application's routes with its token; None has no token."""

    client: FlaskClient
    token: str | None
    n: int = field(default=0)

    def call(self, method: str, path: str, **options: Any) -> TestResponse:
        """One request below /api/v1; keyword arguments are those of Flask's test client."""
        headers = dict(options.pop("headers", {}))
        if self.token is not None:
            headers["Authorization"] = f"Bearer {self.token}"
        return self.client.open(f"{API}{path}", method=method, headers=headers, **options)

    def change(self, kind: str, record: str | None = None, **fields: Any) -> dict[str, Any]:
        """The next change of this device, as it goes over the wire."""
        self.n += 1
        moment = ids.now().isoformat(timespec="milliseconds")
        return {
            **{"id": ids.new_id(), "n": self.n, "kind": kind, "record": record or ids.new_id()},
            **{"edited_at": moment, "set": fields},
        }

    def sync(self, *changes: Any, **envelope: Any) -> TestResponse:
        """One sync request."""
        body = {"protocol": 1, "epoch": None, "cursor": None, "limit": 1000, "changes": list(changes), **envelope}
        return self.call("POST", "/sync", json=body)

    def stored(self, *changes: dict[str, Any]) -> None:
        """Send changes that must all be stored."""
        results = self.sync(*changes).json["results"]
        assert [each["outcome"] for each in results] == ["stored"] * len(changes), results

    def tree(self, **fields: Any) -> str:
        """A new tree, on a fresh tag unless one is given; returns its record id."""
        change = self.change("tree", **{"tag": ids.new_tag_code(), **fields})
        self.stored(change)
        return str(change["record"])


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A collection's home folder, not made yet."""
    return tmp_path / "home"


@pytest.fixture
def app(home: Path, database_address: str) -> Iterator[Flask]:
    """The application on an empty collection, once on each database engine."""
    yield create_app(Config(home, database_address))
    close_database()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A client of the application."""
    return app.test_client()


def visitor(client: FlaskClient, role: str, name: str = "phone") -> Visitor:
    """A newly paired device."""
    code, _ = devices.new_pairing(role)
    return Visitor(client, devices.pair(code, name)[1])


@pytest.fixture
def owner(client: FlaskClient) -> Visitor:
    """A device paired as owner."""
    return visitor(client, "owner", "owner's phone")


@pytest.fixture
def helper(client: FlaskClient) -> Visitor:
    """A device paired as helper."""
    return visitor(client, "helper", "helper's phone")


@pytest.fixture
def stranger(client: FlaskClient) -> Visitor:
    """A device without a token."""
    return Visitor(client, None)


@dataclass(frozen=True)
class LiveServer:
    """`leafwalk serve` in a process of its own."""

    home: Path
    url: str
    process: subprocess.Popen[str] | Forked

    def leafwalk(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Another command on the same home."""
        return run_leafwalk(self.home, *arguments)

    def pair(self, role: str = "owner") -> str:
        """A fresh pairing code."""
        asked = Forked(["--home", str(self.home), "pair", "--role", role, "--json"])
        with asked.stdout as printed:
            code = str(json.loads(printed.read())["code"])
        assert asked.wait(START_S_MAX) == 0
        return code


def run_leafwalk(home: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """One command, run as a user runs it."""
    command = [sys.executable, "-c", "from server.cli import main; main()", "--home", str(home), *arguments]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def start_server(home: Path, port: int, forked: bool = False) -> LiveServer:
    """Start `leafwalk serve`, as users do or forked from a process that is warm; wait until it prints its address."""
    arguments = ["--home", str(home), "serve", "--port", str(port)]
    process: subprocess.Popen[str] | Forked
    if forked:
        process = Forked(arguments)
    else:
        process = subprocess.Popen(
            [sys.executable, "-c", "from server.cli import main; main()", *arguments],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
    assert process.stdout is not None
    until = time.monotonic() + START_S_MAX
    printed = ""
    while time.monotonic() < until and process.poll() is None:
        line = process.stdout.readline()
        printed += line
        if found := re.search(r"http://\S+", line):
            return LiveServer(home, found.group(), process)
    stop_server(process)
    raise AssertionError(f"The server did not start: {printed}")


def stop_server(process: subprocess.Popen[str] | Forked) -> int:
    """Stop a server as a service manager does; returns its exit status."""
    process.terminate()
    try:
        return process.wait(timeout=15)
    finally:
        process.kill()
        if process.stdout is not None:
            process.stdout.close()


@pytest.fixture
def launch_server() -> Iterator[Callable[..., LiveServer]]:
    """`launch_server(home, port=0, forked=False)`: the real server in a process of its own, stopped after the test."""
    started: list[LiveServer] = []

    def launch(home: Path, port: int = 0, forked: bool = False) -> LiveServer:
        started.append(start_server(home, port, forked))
        return started[-1]

    yield launch
    for server in started:
        stop_server(server.process)


@pytest.fixture
def live_server(home: Path, launch_server: Callable[..., LiveServer]) -> LiveServer:
    """The real server on an empty collection, on a port of its own."""
    return launch_server(home)
