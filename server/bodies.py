"""How much of a request's body the server takes in: judged when its headers are read, before any of it is kept.

An ordinary client writes its whole request before it reads the answer. If the server closed the connection instead,
the client would see a broken pipe and not the reason. So what is refused is read to its end and thrown away, up to a
limit; then the reason is told. A client that asks first (Expect: 100-continue) is told at once.
"""

from __future__ import annotations

import logging
import threading
import weakref
from collections import Counter
from collections.abc import Callable
from typing import Any

from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser
from waitress.receiver import FixedStreamReceiver

from server.api.doors import SMALL_BYTES_MAX, bearer_token
from server.api.problems import on_purpose
from server.api.sync import SYNC_BYTES_MAX
from server.errors import LeafwalkError, TooLarge, Unavailable
from server.photos.decode import BYTES_MAX
from server.records.devices import device_by_token
from server.tables.logger_table import BYTES_MAX as LOGGER_BYTES_MAX

# Larger bodies by method and start of the path; everything else is a form of a few lines.
ROOMY = {
    ("POST", "/api/v1/sync"): SYNC_BYTES_MAX,
    ("PUT", "/api/v1/photos/"): BYTES_MAX,
    ("POST", "/api/v1/places/"): LOGGER_BYTES_MAX,
}
# So much of a refused body is thrown away before its sender is cut off.
DRAIN_BYTES_MAX = 256 * 1024 * 1024
# All bodies that are arriving together are held in memory, and no more than this; nor more than this of one device. A
# phone sends one photo at a time, so who would hold more keeps others waiting.
ARRIVING_BYTES_MAX = 96 * 1024 * 1024
DEVICE_BYTES_MAX = 40 * 1024 * 1024

log = logging.getLogger("leafwalk")


def body_bytes_max(method: str, path: str, authorization: str) -> tuple[int, str]:
    """The largest body taken for this request, and who sends it; a large one only from a paired device.

    Raises Unauthorised where the route takes large bodies and the sender is not paired.
    """
    for (roomy_method, start), bytes_max in ROOMY.items():
        if method == roomy_method and path.startswith(start):
            return bytes_max, device_by_token(bearer_token(authorization)).id
    return SMALL_BYTES_MAX, ""


class Allowance:
    """Memory that arriving bodies share, and what each sender may have of it; safe to call from any thread."""

    def __init__(self, bytes_max: int, sender_bytes_max: int) -> None:
        self._bytes_max, self._sender_bytes_max = bytes_max, sender_bytes_max
        self._taken: Counter[str] = Counter()
        self._lock = threading.Lock()

    def take(self, size_bytes: int, sender: str) -> None:
        """Reserve memory. Raises Unavailable when too much is reserved already."""
        with self._lock:
            if self._taken[sender] + size_bytes > self._sender_bytes_max:
                raise Unavailable("This device is sending something else already; send this again in a moment.")
            if self._taken.total() + size_bytes > self._bytes_max:
                raise Unavailable("The server is taking in other uploads; send this again in a moment.")
            self._taken[sender] += size_bytes

    def give_back(self, size_bytes: int, sender: str) -> None:
        """Free what was reserved."""
        with self._lock:
            self._taken[sender] -= size_bytes
            self._taken += Counter()  # which forgets who has nothing


class _Discard:
    """Stands where waitress keeps a body, and keeps nothing."""

    def append(self, data: bytes) -> None:
        """Let the bytes go."""

    def close(self) -> None:
        """Nothing to free."""

    def __len__(self) -> int:
        return 0


class _Refusal:
    """A refused body's answer, as waitress asks for it."""

    def __init__(self, error: LeafwalkError) -> None:
        self._error = error

    def to_response(self, _ident: str | None = None) -> tuple[str, list[tuple[str, str]], bytes]:
        """Status line, headers and body of the problem."""
        answer = on_purpose(self._error)
        answer.headers.pop("Content-Length", None)
        return answer.status, list(answer.headers), answer.get_data()


class BoundedParser(HTTPRequestParser):  # type: ignore[misc]
    """Reads one request, and of its body only what `body_bytes_max` allows."""

    allowance: Allowance
    body_rcv: Any
    expect_continue: bool
    _give_back: Callable[[], Any] | None = None
    _bytes_max, _sender = SMALL_BYTES_MAX, ""

    def parse_header(self, header_plus: bytes) -> None:
        """Judge the body as soon as the headers are known."""
        super().parse_header(header_plus)
        if self.body_rcv is None:
            # Nothing follows that could be continued with; waitress would wait for it and never answer.
            self.expect_continue = False
        if self.body_rcv is None or (not self.chunked and self.content_length <= SMALL_BYTES_MAX):
            return
        try:
            self._bytes_max, self._sender = self._allowed()
            self._check(self.content_length)
            self._reserve(self._bytes_max if self.chunked else self.content_length)
        except LeafwalkError as error:
            self._refuse(error)

    def received(self, data: bytes) -> int:
        """Take bytes in; a chunked body shows its size only on the way."""
        consumed: int = super().received(data)
        if self.chunked and self.error is None and self.body_bytes_received > self._bytes_max:
            try:
                self._check(self.body_bytes_received)
            except TooLarge as error:
                self._refuse(error)
        if self.error is not None and self.body_bytes_received > DRAIN_BYTES_MAX:
            self.completed = True
        return consumed

    def close(self) -> None:
        """Free the body and what was reserved for it."""
        super().close()
        if self._give_back is not None:
            self._give_back()

    def _allowed(self) -> tuple[int, str]:
        try:
            return body_bytes_max(self.command, self.path, self.headers.get("AUTHORIZATION", ""))
        except LeafwalkError:
            raise
        except Exception as error:
            log.exception("the database could not say who sends a large body")
            raise Unavailable("The server's database does not answer; send this again in a moment.") from error

    def _check(self, size_bytes: int) -> None:
        if size_bytes > self._bytes_max:
            size_mb, max_mb = size_bytes / 1e6, self._bytes_max / 1e6
            raise TooLarge(f"The request has {size_mb:.1f} MB or more; at most {max_mb:.2g} MB are taken here.")

    def _reserve(self, size_bytes: int) -> None:
        self.allowance.take(size_bytes, self._sender)
        # A client that goes away in the middle leaves nobody to call close(); then the parser's own end frees it.
        self._give_back = weakref.finalize(self, self.allowance.give_back, size_bytes, self._sender)

    def _refuse(self, error: LeafwalkError) -> None:
        self.error = _Refusal(error)
        if self.expect_continue or self.content_length > DRAIN_BYTES_MAX:
            self.expect_continue = False
            self.body_rcv = None
        elif self.chunked:
            self.body_rcv.buf.close()
            self.body_rcv.buf = _Discard()
        else:
            self.body_rcv = FixedStreamReceiver(self.content_length, _Discard())


def bounded_channel() -> type[HTTPChannel]:
    """A kind of connection whose bodies are bounded each and together."""
    shared = Allowance(ARRIVING_BYTES_MAX, DEVICE_BYTES_MAX)

    class Parser(BoundedParser):
        """Shares one allowance with all connections of this server."""

        allowance = shared

    class Channel(HTTPChannel):  # type: ignore[misc]
        """Reads requests with the bounded parser."""

        parser_class = Parser

    return Channel
