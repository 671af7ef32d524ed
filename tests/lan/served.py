"""The real `leafwalk serve --lan` on loopback, and clients that trust its authority and nothing else."""

from __future__ import annotations

import http.client
import json
import os
import re
import socket
import ssl
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.support.server import run_leafwalk, stop_server

START_S_MAX = 30


@dataclass(frozen=True)
class LanServer:
    """A server on the home network, which here is loopback."""

    home: Path
    printed: str
    process: subprocess.Popen[str]

    @property
    def url(self) -> str:
        """The plain address."""
        return f"https://127.0.0.1:{self.port}"

    @property
    def address(self) -> str:
        """The address that is printed first."""
        found = re.search(r"serves .* at (https://\S+)", self.printed)
        assert found, self.printed
        return found.group(1)

    @property
    def port(self) -> int:
        """The port of the TLS relay."""
        return int(self.address.rsplit(":", 1)[1])

    @property
    def page_url(self) -> str:
        """The address of the installation page."""
        found = re.search(r"http://127\.0\.0\.1:\d+", self.printed)
        assert found, self.printed
        return found.group()

    @property
    def fingerprint(self) -> str:
        """The fingerprint as printed."""
        return "".join(re.findall(r"(?:[0-9A-F]{2}:){15}[0-9A-F]{2}:?", self.printed))

    @property
    def authority(self) -> Path:
        """The authority's certificate."""
        return self.home / "certificates" / "authority.crt"

    def trusting(self) -> ssl.SSLContext:
        """What a phone knows that trusts this authority alone."""
        return ssl.create_default_context(cafile=str(self.authority))

    def connect(self, source: str = "127.0.0.1", name: str = "127.0.0.1") -> ssl.SSLSocket:
        """A verified TLS connection from one of loopback's addresses."""
        plain = socket.create_connection(("127.0.0.1", self.port), timeout=30, source_address=(source, 0))
        return self.trusting().wrap_socket(plain, server_hostname=name)

    def ask(
        self, method: str, path: str, body: Any = None, source: str = "127.0.0.1", **headers: str
    ) -> tuple[int, Any, http.client.HTTPMessage]:
        """One request with the standard library's client: status, JSON, headers."""
        connection = http.client.HTTPSConnection(
            "127.0.0.1", self.port, timeout=60, context=self.trusting(), source_address=(source, 0)
        )
        connection.request(method, path, body, {name.replace("_", "-"): value for name, value in headers.items()})
        answer = connection.getresponse()
        data = answer.read()
        connection.close()
        return answer.status, json.loads(data) if "json" in answer.headers["Content-Type"] else data, answer.headers

    def leafwalk(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Another command on the same home."""
        return run_leafwalk(self.home, *arguments)

    def pair(self) -> str:
        """A token for a fresh device."""
        code = json.loads(self.leafwalk("pair", "--json").stdout)["code"]
        status, paired, _ = self.ask("POST", "/api/v1/pair", json.dumps({"code": code}))
        assert status == 201, paired
        return str(paired["token"])


@contextmanager
def serving_lan(home: Path, *arguments: str) -> Iterator[LanServer]:
    """`leafwalk serve --lan` on loopback, from the moment that it has printed all until the end of the block."""
    command = [sys.executable, "-c", "from server.cli import main; main()", "--home", str(home), "serve", "--lan"]
    process = subprocess.Popen(
        [*command, "--host", "127.0.0.1", "--port", "0", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    try:
        last = r"serves .* at https://" if "--certificate" in arguments else r"\n  (?:[0-9A-F]{2}:){15}[0-9A-F]{2}\n$"
        yield LanServer(home, read_until(process, last), process)
    finally:
        stop_server(process)


def read_until(process: subprocess.Popen[str], pattern: str) -> str:
    """What a process prints, until it matches; fails with what came when it ends or takes too long."""
    assert process.stdout is not None
    watch = threading.Timer(START_S_MAX, process.kill)
    watch.start()
    printed = ""
    try:
        while line := process.stdout.readline():
            printed += line
            if re.search(pattern, printed):
                return printed
    finally:
        watch.cancel()
        watch.join()
    raise AssertionError(f"The server did not start: {printed}")
