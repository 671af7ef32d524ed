"""Sockets that take a place and give nothing for it, and a clock for what others notice of them."""

from __future__ import annotations

import itertools
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from tests.lan.served import LanServer

REQUEST = b"GET /api/v1/health HTTP/1.1\r\nHost: 127.0.0.1\r\n"
UPLOAD = b"POST /api/v1/pair HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 500\r\n\r\n"
LARGE = b"/vendor/zxing-wasm/reader/zxing_reader.wasm"
DRIP_S = 0.2
# Fewer from each address than the relay allows one client, so that none is turned away for that.
SOURCES = tuple(f"127.0.0.{number}" for number in range(20, 25))


def silent(server: LanServer, source: str) -> socket.socket:
    """Connected, and not a byte."""
    return socket.create_connection(("127.0.0.1", server.port), timeout=30, source_address=(source, 0))


def half_open(server: LanServer, source: str) -> socket.socket:
    """The first bytes of a handshake, and no more."""
    opened = silent(server, source)
    opened.sendall(b"\x16\x03\x01\x02\x00\x01\x00\x01")
    return opened


def mute(server: LanServer, source: str) -> socket.socket:
    """Secured, and no request."""
    return server.connect(source)


def slow_head(server: LanServer, source: str) -> socket.socket:
    """A request whose head never ends."""
    opened = server.connect(source)
    opened.sendall(REQUEST)
    return opened


def slow_body(server: LanServer, source: str) -> socket.socket:
    """A request whose body never ends."""
    opened = server.connect(source)
    opened.sendall(UPLOAD)
    return opened


def slow_reader(server: LanServer, source: str) -> socket.socket:
    """Answers that pile up, as nobody reads them."""
    opened = server.connect(source)
    opened.sendall((b"GET %s HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" % LARGE) * 8)
    return opened


def expecting(server: LanServer, source: str) -> socket.socket:
    """A request that waits to be told to go on, and has nothing to go on with."""
    opened = server.connect(source)
    opened.sendall(REQUEST + b"Expect: 100-continue\r\n\r\n")
    return opened


KINDS = (silent, half_open, mute, slow_head, slow_body)
DRIPPING = (slow_head, slow_body)


@contextmanager
def slow_sockets(server: LanServer, count: int) -> Iterator[Callable[[], int]]:
    """Keep `count` of them open, all kinds in turn, some dripping; the block may ask how many still are."""
    opened: list[tuple[Callable[[LanServer, str], socket.socket], socket.socket]] = []
    ended = threading.Event()

    def drip() -> None:
        while not ended.wait(DRIP_S):
            for kind, each in opened:
                if kind in DRIPPING:
                    with suppress(OSError):
                        each.sendall(b"x")

    def still_open() -> int:
        return sum(is_open(each) for _, each in opened)

    dripping = threading.Thread(target=drip, daemon=True)
    try:
        for kind, source, _ in zip(itertools.cycle(KINDS), itertools.cycle(SOURCES), range(count), strict=False):
            opened.append((kind, kind(server, source)))
        dripping.start()
        yield still_open
    finally:
        ended.set()
        if dripping.is_alive():
            dripping.join(5)
        for _, each in opened:
            each.close()


def is_open(connection: socket.socket) -> bool:
    """Whether the server has not closed its end."""
    connection.settimeout(0)
    try:
        return connection.recv(1) != b""
    except (BlockingIOError, InterruptedError):
        return True
    except OSError as error:
        # A TLS socket says in its own way that nothing has come.
        return "did not complete" in str(error)
    finally:
        connection.settimeout(30)


def delays_ms(server: LanServer, count: int) -> list[float]:
    """How long a newcomer waits for connection, handshake and answer, `count` times, sorted, in milliseconds."""
    measured = []
    for _ in range(count):
        began = time.perf_counter()
        with server.connect("127.0.0.7") as connection:
            connection.sendall(REQUEST + b"Connection: close\r\n\r\n")
            answer = b""
            while data := connection.recv(65536):
                answer += data
        measured.append((time.perf_counter() - began) * 1000)
        assert answer.startswith(b"HTTP/1.1 200 ")
    return sorted(measured)
