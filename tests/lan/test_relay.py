"""The relay before the real server: whole requests pass, whatever else comes costs nobody but its sender."""

from __future__ import annotations

import hashlib
import http.client
import io
import json
import socket
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from server.lan.relay import Limits
from tests.lan.relayed import GET, Relayed, is_closed, read_answer, read_head, relayed
from tests.support.server import API, LiveServer, start_server, stop_server

SHORT = Limits(handshake_s=0.6, head_s=0.6, idle_s=0.6, grace_s=0.6)
CLOSED_S_MAX = 6


@pytest.fixture(scope="module")
def home_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """The real server, which the tests of this module share."""
    started = start_server(tmp_path_factory.mktemp("server") / "home", 0)
    yield started
    stop_server(started.process)


@pytest.fixture
def upstream(home_server: LiveServer) -> tuple[str, int]:
    return "127.0.0.1", int(home_server.url.rsplit(":", 1)[1])


@pytest.fixture
def relay(tmp_path: Path, upstream: tuple[str, int]) -> Iterator[Relayed]:
    with relayed(tmp_path / "lan", upstream) as opened:
        yield opened


@pytest.fixture
def short(tmp_path: Path, upstream: tuple[str, int]) -> Iterator[Relayed]:
    """A relay of little patience."""
    with relayed(tmp_path / "lan", upstream, SHORT) as opened:
        yield opened


@pytest.fixture
def silent() -> Iterator[socket.socket]:
    """A server that takes connections, and does with them what the test does."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(20)
        yield listening


def client_of(relay: Relayed) -> http.client.HTTPSConnection:
    return http.client.HTTPSConnection("127.0.0.1", relay.port, timeout=60, context=relay.trusting())


def ask(relay: Relayed, method: str, path: str, body: Any = None, token: str = "") -> tuple[int, Any]:
    connection = client_of(relay)
    connection.request(method, path, body, {"Authorization": f"Bearer {token}"} if token else {})
    answer = connection.getresponse()
    data = json.loads(answer.read() or b"null")
    connection.close()
    return answer.status, data


@pytest.fixture
def token(relay: Relayed, home_server: LiveServer) -> str:
    return str(ask(relay, "POST", f"{API}/pair", json.dumps({"code": home_server.pair()}))[1]["token"])


def test_one_connection_serves_request_after_request(relay: Relayed) -> None:
    with relay.connect() as connection:
        for _ in range(3):
            connection.sendall(GET + b"\r\n")
            status, body = read_answer(connection)
            assert (status, json.loads(body)["status"]) == (200, "ok")
        connection.sendall(GET + b"\r\n" + GET.replace(b"health", b"nothing") + b"Connection: close\r\n\r\n")
        assert [read_answer(connection)[0] for _ in range(2)] == [200, 404]
        assert is_closed(connection)


def test_head_and_not_modified_leave_the_connection_in_step(relay: Relayed) -> None:
    connection = client_of(relay)
    connection.request("GET", "/app.js")
    answer = connection.getresponse()
    etag, size = answer.headers["ETag"], len(answer.read())
    for method, headers, status in (("HEAD", {}, 200), ("GET", {"If-None-Match": etag}, 304), ("GET", {}, 200)):
        connection.request(method, "/app.js", headers=headers)
        answer = connection.getresponse()
        assert answer.status == status
        assert len(answer.read()) == (size if (method, status) == ("GET", 200) else 0)
    connection.close()


def test_tls_is_1_2_or_newer_and_speaks_http_1_1(relay: Relayed) -> None:
    for version in (ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_3):
        settings = relay.trusting()
        settings.minimum_version = settings.maximum_version = version
        settings.set_alpn_protocols(["h2", "http/1.1"])
        with settings.wrap_socket(relay.plain(), server_hostname="127.0.0.1") as connection:
            assert connection.selected_alpn_protocol() == "http/1.1"
    old = relay.trusting()
    with pytest.warns(DeprecationWarning):
        old.minimum_version, old.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    old.set_ciphers("ALL:@SECLEVEL=0")
    with relay.plain() as plain, pytest.raises(OSError, match=r"(?i)protocol|alert|reset|eof"):
        old.wrap_socket(plain, server_hostname="127.0.0.1")


def a_photo(seed: int) -> bytes:
    noise = np.random.default_rng(seed).integers(0, 256, (1500, 2000, 3), dtype=np.uint8)
    stored = io.BytesIO()
    Image.fromarray(noise).save(stored, "JPEG", quality=90)
    return stored.getvalue()


@pytest.mark.parametrize("chunked", [False, True])
def test_a_photo_goes_through(chunked: bool, relay: Relayed, token: str) -> None:
    photo = a_photo(int(chunked))
    assert len(photo) > 2_000_000
    body: Any = (photo[start : start + 50_000] for start in range(0, len(photo), 50_000)) if chunked else photo
    assert ask(relay, "PUT", f"{API}/photos/{hashlib.sha256(photo).hexdigest()}", body, token)[0] == 201


def test_100_mb_are_refused_with_the_reason(relay: Relayed, token: str) -> None:
    big = b"x" * 100_000_000
    for sender, wanted in ((token, 413), ("", 401)):
        status, problem = ask(relay, "PUT", f"{API}/photos/{'0' * 64}", big, sender)
        assert (status, problem["status"]) == (wanted, wanted)
    assert ask(relay, "GET", f"{API}/health")[0] == 200


def test_who_asks_before_sending_is_answered_before_sending(relay: Relayed, token: str) -> None:
    head = (
        f"PUT {API}/photos/{'0' * 64} HTTP/1.1\r\nHost: x\r\nExpect: 100-continue\r\nAuthorization: Bearer {token}\r\n"
    )
    with relay.connect() as connection:
        connection.sendall(f"{head}Content-Length: 90000000\r\n\r\n".encode())
        assert read_answer(connection)[0] == 413
    with relay.connect() as connection:
        connection.sendall(f"{head}Content-Length: 300000\r\n\r\n".encode())
        assert read_answer(connection)[0] == 100
        connection.sendall(b"x" * 300_000)
        assert read_answer(connection)[0] == 422, "taken in, and found to have another hash"


def test_what_is_no_http_is_refused_and_the_connection_closed(relay: Relayed) -> None:
    for sent, status in (
        (b"nonsense\r\n\r\n", 400),
        (GET + b"Content-Length: 1\r\nTransfer-Encoding: chunked\r\n\r\n", 400),
        (GET + b"X: " + b"y" * 70_000 + b"\r\n\r\n", 431),
        (GET.replace(b"GET", b"POST") + b"Transfer-Encoding: chunked\r\n\r\n5;x=y\r\nhello\r\n0\r\n\r\n", 400),
    ):
        with relay.connect() as connection:
            connection.sendall(sent)
            answered, problem = read_answer(connection)
            assert (answered, json.loads(problem)["status"]) == (status, status)
            assert is_closed(connection)


def test_plain_http_is_sent_to_https_and_told_nothing_else(relay: Relayed) -> None:
    for path, host in (("/", "leafwalk.local:8617"), (f"{API}/health", "192.168.7.20")):
        with relay.plain() as connection:
            connection.sendall(f"GET {path} HTTP/1.1\r\nHost: {host}\r\n\r\n".encode())
            answer = read_head(connection).decode()
            assert answer.startswith("HTTP/1.1 307 ")
            assert f"\r\nLocation: https://{host}/\r\n" in answer
            assert is_closed(connection)


def within(seconds_max: float, connection: socket.socket) -> bool:
    """Whether the other end closes in time."""
    connection.settimeout(seconds_max)
    return is_closed(connection)


def test_silence_ends_the_connection_at_every_stage(short: Relayed) -> None:
    stages = []
    stages.append(short.plain())
    half = short.plain()
    half.sendall(b"\x16\x03\x01\x02\x00\x01")
    stages.append(half)
    stages.append(short.connect())
    started = short.connect()
    started.sendall(GET)
    stages.append(started)
    answered = short.connect()
    answered.sendall(GET + b"\r\n")
    assert read_answer(answered)[0] == 200
    stages.append(answered)
    uploading = short.connect()
    uploading.sendall(GET.replace(b"GET", b"POST") + b"Content-Length: 1000\r\n\r\nabc")
    stages.append(uploading)
    try:
        assert [within(CLOSED_S_MAX, each) for each in stages] == [True] * len(stages)
    finally:
        for each in stages:
            each.close()


def test_a_head_that_dribbles_in_is_told_so(short: Relayed) -> None:
    with short.connect() as connection:
        with suppress(OSError):
            for byte in GET:
                connection.sendall(bytes([byte]))
                time.sleep(0.05)
        assert read_answer(connection)[0] == 408


def test_an_answer_that_nobody_reads_holds_no_place(tmp_path: Path, silent: socket.socket) -> None:
    with relayed(tmp_path, silent.getsockname(), SHORT) as relay, relay.connect() as connection:
        connection.sendall(GET + b"\r\n")
        server, _ = silent.accept()
        with server:
            server.settimeout(CLOSED_S_MAX)
            read_head(server)
            server.sendall(b"HTTP/1.1 200 OK\r\nContent-Length: 1000000000\r\n\r\n")
            sent = pushed(server)
        assert sent < 16_000_000, "the relay keeps no more than its buffers hold"


def pushed(connection: socket.socket) -> int:
    """Send until the other end gives up; how many bytes it took."""
    sent = 0
    try:
        while sent < 1_000_000_000:
            sent += connection.send(b"x" * 65536)
    except TimeoutError as error:
        raise AssertionError("nobody ended the connection") from error
    except OSError:
        pass
    return sent


def test_an_upload_waits_for_the_server(tmp_path: Path, silent: socket.socket) -> None:
    with relayed(tmp_path, silent.getsockname(), SHORT) as relay, relay.connect() as connection:
        connection.sendall(GET.replace(b"GET", b"PUT") + b"Content-Length: 1000000000\r\n\r\n")
        server, _ = silent.accept()
        with server:
            read_head(server)
            connection.settimeout(CLOSED_S_MAX)
            assert pushed(connection) < 16_000_000


def test_who_goes_away_in_the_middle_leaves_nothing_behind(tmp_path: Path, silent: socket.socket) -> None:
    with relayed(tmp_path, silent.getsockname()) as relay:
        connection = relay.connect()
        connection.sendall(GET.replace(b"GET", b"PUT") + b"Content-Length: 5000\r\n\r\nabc")
        server, _ = silent.accept()
        with server:
            server.settimeout(CLOSED_S_MAX)
            read_head(server)
            connection.close()
            assert is_closed(server)


def test_a_server_that_is_not_there_is_told_as_such(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        address = free.getsockname()
    with relayed(tmp_path, address) as relay, relay.connect() as connection:
        connection.sendall(GET + b"\r\n")
        assert read_answer(connection)[0] == 503


def test_a_server_that_dies_in_the_middle_is_told_as_such(tmp_path: Path, silent: socket.socket) -> None:
    with relayed(tmp_path, silent.getsockname()) as relay, relay.connect() as connection:
        connection.sendall(GET + b"\r\n")
        server, _ = silent.accept()
        read_head(server)
        server.close()
        assert read_answer(connection)[0] == 502


def test_a_client_may_hold_so_many_connections_and_others_do_not_notice(
    tmp_path: Path, upstream: tuple[str, int]
) -> None:
    limits = Limits(connections=12, connections_per_client=4)
    with relayed(tmp_path / "lan", upstream, limits) as relay:
        mine = [relay.connect("127.0.0.2") for _ in range(4)]
        other = relay.connect("127.0.0.3")
        fifth = relay.connect("127.0.0.2")
        assert within(CLOSED_S_MAX, mine[0]), "the longest waiting makes room"
        for each in (*mine[1:], fifth, other):
            each.sendall(GET + b"\r\n")
            assert read_answer(each)[0] == 200
        more = [relay.plain(f"127.0.0.{number}") for number in range(10, 40)]
        newcomer = relay.connect("127.0.0.9")
        newcomer.sendall(GET + b"\r\n")
        assert read_answer(newcomer)[0] == 200
        for each in (*mine, fifth, other, *more, newcomer):
            each.close()


def test_it_stops_with_connections_open(tmp_path: Path, upstream: tuple[str, int]) -> None:
    threads = threading.active_count()
    with relayed(tmp_path / "lan", upstream) as relay:
        opened = [relay.connect(), relay.plain()]
        opened[0].sendall(GET + b"\r\n")
        assert read_answer(opened[0])[0] == 200
        began = time.monotonic()
    assert time.monotonic() - began < 5
    assert threading.active_count() <= threads
    for each in opened:
        assert within(CLOSED_S_MAX, each)
        each.close()
