"""General-purpose stores that take records in over HTTP, installed for the benchmark only and served on loopback."""

from __future__ import annotations

import http.client
import json
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, ClassVar
from urllib.parse import urlsplit

import orjson

from tests.support.server import stop_server

KINTO = ("kinto==26.5.0", "waitress==3.0.2")
POUCHDB = ("pouchdb@9.0.0", "express-pouchdb@4.2.0", "express@4.22.3", "pouchdb-adapter-memory@9.0.0")
READY_S_MAX = 30
ANSWER_S_MAX = 120

# All in memory; pages and batches as Kinto has them by default: no pages, 25 requests in a batch.
KINTO_SETTINGS = """
[app:main]
use = egg:kinto
kinto.storage_backend = kinto.core.storage.memory
kinto.permission_backend = kinto.core.permission.memory
kinto.cache_backend = kinto.core.cache.memory
kinto.userid_hmac_secret = benchmark
kinto.bucket_create_principals = system.Authenticated
multiauth.policies = basicauth
multiauth.policy.basicauth.use = kinto.core.authentication.BasicAuthAuthenticationPolicy

[server:main]
use = egg:waitress#main
host = 127.0.0.1
port = {port}
"""
POUCHDB_SERVER = """
const PouchDB = require('pouchdb').defaults({ prefix: process.argv[2] + '/' });
const app = require('express')();
app.use('/', require('express-pouchdb')(PouchDB, {
  mode: 'minimumForPouchDB', inMemoryConfig: true, logPath: process.argv[2] + '/log.txt',
}));
app.listen(Number(process.argv[3]), '127.0.0.1');
"""
# Two devices with PouchDB's own client: the first replicates its documents to the server, the second all from it.
POUCHDB_DEVICES = """
const PouchDB = require('pouchdb').plugin(require('pouchdb-adapter-memory'));
const [, , url, file] = process.argv;
const seconds = async (task) => {
  const start = performance.now();
  await task();
  return (performance.now() - start) / 1000;
};
(async () => {
  const first = new PouchDB('first', { adapter: 'memory' });
  await first.bulkDocs(JSON.parse(require('fs').readFileSync(file)));
  await new PouchDB(url).info();
  const push_s = await seconds(() => first.replicate.to(url));
  const second = new PouchDB('second', { adapter: 'memory' });
  const pull_s = await seconds(() => second.replicate.from(url));
  const { doc_count: count } = await second.info();
  console.log(JSON.stringify({ push_s, pull_s, count }));
})();
"""


class Client:
    """One kept-alive HTTP connection that speaks JSON; all of them are closed by `close_all`.

    orjson writes and reads for every store alike, so that the device's share of the time stays small.
    """

    opened: ClassVar[list[http.client.HTTPConnection]] = []

    def __init__(self, url: str, headers: dict[str, str] | None = None) -> None:
        address = urlsplit(url)
        self.connection = http.client.HTTPConnection(address.hostname or "", address.port, timeout=ANSWER_S_MAX)
        self.opened.append(self.connection)
        self.headers = {"Content-Type": "application/json", **(headers or {})}

    def call(self, method: str, path: str, body: Any = None) -> Any:
        """The answer's JSON; a failure ends the benchmark."""
        sent = None if body is None else orjson.dumps(body)
        self.connection.request(method, path, sent, self.headers)
        answer = self.connection.getresponse()
        data = answer.read()
        assert answer.status < 400, (method, path, answer.status, data[:300])
        return orjson.loads(data)

    @classmethod
    def close_all(cls) -> None:
        """Close every connection of every client."""
        while cls.opened:
            cls.opened.pop().close()


@contextmanager
def kinto(folder: Path, port: int) -> Iterator[str]:
    """Kinto on waitress with its storage in memory; yields its address."""
    home = folder / "kinto"
    subprocess.run([sys.executable, "-m", "venv", home], check=True)
    subprocess.run([home / "bin" / "pip", "install", "-q", *KINTO], check=True, capture_output=True)
    settings = folder / "kinto.ini"
    settings.write_text(KINTO_SETTINGS.format(port=port))
    with _served([str(home / "bin" / "kinto"), "start", "--ini", str(settings)], f"http://127.0.0.1:{port}/v1/") as url:
        yield url


@contextmanager
def pouchdb(folder: Path, port: int) -> Iterator[str]:
    """PouchDB behind express-pouchdb, on its usual disk store; yields its address."""
    home = folder / "pouchdb"
    (home / "data").mkdir(parents=True)
    (home / "server.js").write_text(POUCHDB_SERVER)
    (home / "devices.js").write_text(POUCHDB_DEVICES)
    (home / "package.json").write_text("{}")
    npm, node = shutil.which("npm"), shutil.which("node")
    assert npm and node, "this benchmark needs Node.js on the path"
    subprocess.run([npm, "install", "--ignore-scripts", *POUCHDB], cwd=home, check=True, capture_output=True)
    command = [node, str(home / "server.js"), str(home / "data"), str(port)]
    with _served(command, f"http://127.0.0.1:{port}/") as url:
        yield url


def replicated(folder: Path, url: str, docs: list[dict[str, Any]]) -> tuple[float, float]:
    """Seconds in which PouchDB's own client brings documents to a fresh database, and another device gets them."""
    home, node = folder / "pouchdb", shutil.which("node")
    assert node
    (home / "docs.json").write_text(json.dumps(docs))
    command = [node, str(home / "devices.js"), url, str(home / "docs.json")]
    printed = subprocess.run(command, check=True, capture_output=True, timeout=ANSWER_S_MAX).stdout
    told = json.loads(printed)
    assert told["count"] == len(docs)
    return told["push_s"], told["pull_s"]


@contextmanager
def _served(command: list[str], url: str) -> Iterator[str]:
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, text=True)
    try:
        _wait_for(url)
        yield url.rstrip("/")
    finally:
        stop_server(process)


def _wait_for(url: str) -> None:
    until = time.monotonic() + READY_S_MAX
    while True:
        try:
            urllib.request.urlopen(url, timeout=2).read()
            return
        except OSError:
            assert time.monotonic() < until, f"{url} did not answer"
            time.sleep(0.2)
