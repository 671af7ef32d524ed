"""The relay in this process with limits that tests choose, before the real server or before a bare socket."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from server.lan.certificates import HomeCertificates
from server.lan.front import Front, Plan, Reach
from server.lan.relay import Limits

TIMEOUT_S = 20
GET = b"GET /api/v1/health HTTP/1.1\r\nHost: 127.0.0.1\r\n"


@dataclass
class Relayed:
    """A front that runs in a thread of this process."""

    port: int
    home: Path
    front: Front
    reach: Reach

    def trusting(self) -> ssl.SSLContext:
        """Trusts its authority alone."""
        return ssl.create_default_context(cafile=str(self.home / "certificates" / "authority.crt"))

    def plain(self, source: str = "127.0.0.1") -> socket.socket:
        """A connection on which no handshake was begun."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=TIMEOUT_S, source_address=(source, 0))

    def connect(self, source: str = "127.0.0.1", name: str = "127.0.0.1") -> ssl.SSLSocket:
        """A verified TLS connection."""
        return self.trusting().wrap_socket(self.plain(source), server_hostname=name)


@contextmanager
def relayed(
    home: Path,
    upstream: tuple[str, int],
    limits: Limits | None = None,
    addresses: Callable[[str], tuple[str, ...]] = lambda host: (),
    check_s: float = 60,
    on_change: Callable[[Reach], None] = lambda reach: None,
) -> Iterator[Relayed]:
    """A front on loopback before `upstream`; without addresses it also announces no name, and starts at once."""
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    certificates = HomeCertificates(home / "certificates")
    front = Front(Plan(listening, upstream, certificates, None, limits, check_s, addresses), on_change)
    try:
        yield Relayed(port, home, front, front.start())
    finally:
        front.stop()
        listening.close()


def read_head(connection: socket.socket) -> bytes:
    """An answer's head, byte by byte, so that what follows is left for the next reader."""
    data = b""
    while not data.endswith(b"\r\n\r\n"):
        byte = connection.recv(1)
        if not byte:
            return data
        data += byte
    return data


def read_answer(connection: socket.socket) -> tuple[int, bytes]:
    """Status and body of an answer that tells its length."""
    head = read_head(connection)
    assert head.startswith(b"HTTP/1."), head
    length = next((int(line[15:]) for line in head.split(b"\r\n") if line.lower().startswith(b"content-length:")), 0)
    body = b""
    while len(body) < length:
        data = connection.recv(length - len(body))
        assert data, "the answer ended early"
        body += data
    return int(head.split()[1]), body


def is_closed(connection: socket.socket) -> bool:
    """Wait until the other end closes; whatever it still says is dropped."""
    try:
        while connection.recv(65536):
            pass
    except TimeoutError:
        return False
    except OSError:
        return True
    return True
