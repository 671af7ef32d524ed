"""Bodies that are too large, met with real sockets: an ordinary client reads the reason, and memory stays bounded."""

from __future__ import annotations

import http.client
import json
import shutil
import socket
import subprocess
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from server.bodies import ARRIVING_BYTES_MAX, Allowance
from server.errors import Unavailable
from server.photos.decode import BYTES_MAX
from tests.support.server import API, LiveServer

BIG_BYTES = 100_000_000
PHOTO = f"{API}/photos/{'0' * 64}"


@pytest.fixture
def token(live_server: LiveServer) -> str:
    """The token of a device paired over the wire."""
    return paired(live_server)


def paired(server: LiveServer) -> str:
    """A new device's token."""
    return str(ask(server, "POST", f"{API}/pair", json.dumps({"code": server.pair()}).encode())[1]["token"])


def host_of(server: LiveServer) -> str:
    """Host and port."""
    return server.url.removeprefix("http://")


def ask(server: LiveServer, method: str, path: str, body: object = None, token: str = "") -> tuple[int, dict]:  # type: ignore[type-arg]
    """One request with the standard library's client, which reads no answer before all is sent."""
    connection = http.client.HTTPConnection(host_of(server), timeout=60)
    headers = {"Authorization": f"Bearer {token}"} if token else {}
    connection.request(method, path, body, headers)
    answer = connection.getresponse()
    data = json.loads(answer.read())
    connection.close()
    return answer.status, data


def parts(size_bytes: int) -> Iterator[bytes]:
    """A body of unknown length, sent in chunks."""
    for _ in range(size_bytes // 100_000):
        yield b"x" * 100_000


def test_an_ordinary_client_is_told_that_100_mb_are_too_much(live_server: LiveServer, token: str) -> None:
    big = b"x" * BIG_BYTES
    for path in (PHOTO, f"{API}/sync", f"{API}/settings"):
        method = "POST" if path.endswith("sync") else "PUT"
        status, problem = ask(live_server, method, path, big, token)
        assert (status, problem["status"]) == (413, 413), path
        assert "MB" in problem["detail"]
    assert ask(live_server, "PUT", PHOTO, parts(BIG_BYTES), token)[0] == 413
    request = urllib.request.Request(live_server.url + PHOTO, big, {"Authorization": f"Bearer {token}"}, method="PUT")
    with pytest.raises(urllib.error.HTTPError) as caught:
        urllib.request.urlopen(request, timeout=60)
    assert caught.value.code == 413
    caught.value.close()
    assert ask(live_server, "GET", f"{API}/health")[0] == 200


@pytest.mark.skipif(shutil.which("curl") is None, reason="curl is not installed")
def test_curl_is_told_before_it_sends_and_after(live_server: LiveServer, token: str, tmp_path: Path) -> None:
    file = tmp_path / "big.jpg"
    with file.open("wb") as opened:
        opened.truncate(BIG_BYTES)
    for extra in ([], ["-H", "Expect:"], ["-H", "Transfer-Encoding: chunked"]):
        command = [
            "curl",
            "-s",
            "-w",
            "\n%{http_code}",
            "-T",
            str(file),
            "-H",
            f"Authorization: Bearer {token}",
            *extra,
        ]
        done = subprocess.run([*command, live_server.url + PHOTO], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout.splitlines()[-1]) == (0, "413"), extra


def test_a_stranger_cannot_make_the_server_keep_anything_large(live_server: LiveServer, token: str) -> None:
    process = psutil.Process(live_server.process.pid)
    before_bytes = process.memory_info().rss
    for sender in ("", "wrong"):
        for body in (b"x" * BIG_BYTES, parts(BIG_BYTES)):
            status, problem = ask(live_server, "PUT", PHOTO, body, sender)
            assert status == 401
            assert problem["type"].endswith("/token-revoked")
    assert ask(live_server, "POST", f"{API}/pair", b"x" * BIG_BYTES)[0] == 413
    peak_bytes = int(peak_kb(process.pid)) * 1024
    assert peak_bytes - before_bytes < 30_000_000


def peak_kb(pid: int) -> str:
    """The largest resident size that a process ever had, from the kernel."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM"))


def test_uploads_that_stand_still_leave_room_only_up_to_the_allowance(live_server: LiveServer, token: str) -> None:
    waiting = []
    for sender in [token, *(paired(live_server) for _ in range(ARRIVING_BYTES_MAX // BYTES_MAX - 1))]:
        head = (
            f"PUT {PHOTO} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {sender}\r\nContent-Length: {BYTES_MAX}\r\n\r\n"
        )
        opened = socket.create_connection(host_of(live_server).split(":"), timeout=30)
        opened.sendall(head.encode() + b"x" * 1000)
        waiting.append(opened)
    # The server reads them in turn; a request after them on the same loop shows that it has seen their headers.
    assert ask(live_server, "GET", f"{API}/health")[0] == 200
    last = paired(live_server)
    for sender, reason in ((last, "other uploads"), (token, "This device")):
        status, problem = ask(live_server, "PUT", PHOTO, b"x" * (BYTES_MAX - 1), sender)
        assert (status, problem["status"]) == (503, 503)
        assert reason in problem["detail"]
    assert ask(live_server, "POST", f"{API}/sync", b'{"protocol":1}', token)[0] == 200
    for opened in waiting:
        opened.close()
    # Whoever goes away frees what was held for them; the hash is wrong, so 422 says that the body was taken in.
    assert ask(live_server, "GET", f"{API}/health")[0] == 200
    assert ask(live_server, "PUT", PHOTO, b"x" * (BYTES_MAX - 1), token)[0] == 422


def test_an_allowance_is_given_back_whole() -> None:
    allowance = Allowance(100, 60)
    allowance.take(60, "a")
    for size_bytes, sender, reason in ((1, "a", "This device"), (41, "b", "other uploads")):
        with pytest.raises(Unavailable, match=reason):
            allowance.take(size_bytes, sender)
    allowance.take(40, "b")
    allowance.give_back(60, "a")
    allowance.give_back(40, "b")
    for sender in "cd":
        allowance.take(50, sender)


def test_who_asks_to_go_on_with_nothing_is_answered(live_server: LiveServer) -> None:
    with socket.create_connection(host_of(live_server).split(":"), timeout=30) as opened:
        opened.sendall(
            b"GET %s/health HTTP/1.1\r\nHost: x\r\nExpect: 100-continue\r\nConnection: close\r\n\r\n" % API.encode()
        )
        answer = b"".join(iter(lambda: opened.recv(65536), b""))
    assert answer.startswith(b"HTTP/1.1 200 ")
