"""The TLS relay: takes phones' connections, and hands whole requests on to the server on this computer.

A connection costs the server nothing before a request's head has arrived, so that who opens sockets and says nothing,
or little by little, keeps nobody waiting. Each client's requests go over a connection to the server of its own.
"""

from __future__ import annotations

import asyncio
import json
import socket
import ssl
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from server.lan.accepting import LOST, accept_all
from server.lan.copying import BLOCK_BYTES, GRACE_S, RATE_BYTES_PER_S, Pace, copy_body
from server.lan.gate import Gate, Stage, Visit
from server.lan.heads import END_OF_HEAD, HEAD_BYTES_MAX, AnswerHead, Malformed, RequestHead, read_answer, read_request
from server.lan.plain import send_to_https, speaks_tls

REASONS = {
    400: "Bad Request",
    408: "Request Timeout",
    431: "Request Header Fields Too Large",
    501: "Not Implemented",
    502: "Bad Gateway",
    503: "Service Unavailable",
}
Streams = tuple[asyncio.StreamReader, asyncio.StreamWriter]


@dataclass(frozen=True, slots=True)
class Limits:
    """Bounds of the relay. A browser opens six connections to one host; a household has a dozen devices."""

    connections: int = 160
    connections_per_client: int = 32
    handshake_s: float = 10
    head_s: float = 10
    # Shorter than the server's own, so that the server never closes a connection that a request is on its way to.
    idle_s: float = 75
    answer_s: float = 120
    linger_s: float = 2
    grace_s: float = GRACE_S
    rate_bytes_per_s: float = RATE_BYTES_PER_S


class Relay:
    """Serves one listening socket; `settings` is asked at each connection, so that a new certificate drops nobody."""

    def __init__(
        self, upstream: tuple[str, int], settings: Callable[[], ssl.SSLContext], limits: Limits | None = None
    ) -> None:
        self._upstream = upstream
        self._settings = settings
        self._limits = limits or Limits()
        self.gate = Gate(self._limits.connections, self._limits.connections_per_client)

    async def serve(self, listening: socket.socket) -> None:
        """Take connections until cancelled."""
        await accept_all(listening, self.gate, self._serve_one)

    async def _serve_one(self, connection: socket.socket, visit: Visit) -> None:
        try:
            async with asyncio.timeout(self._limits.handshake_s):
                tls = await speaks_tls(connection)
        except BaseException:
            connection.close()
            raise
        if not tls:
            async with asyncio.timeout(self._limits.head_s):
                await send_to_https(connection)
            return
        streams = await self._open_tls(connection)
        try:
            with suppress(*LOST):
                await self._serve_requests(streams, visit)
        except Malformed as error:
            with suppress(*LOST):
                await self._refuse(streams[1], error.status, str(error))
        except asyncio.CancelledError:
            # Somebody else needs the place now; a farewell could take seconds.
            streams[1].transport.abort()
            raise
        await self._close(streams[1])

    async def _open_tls(self, connection: socket.socket) -> Streams:
        loop = asyncio.get_running_loop()
        reader = asyncio.StreamReader(limit=HEAD_BYTES_MAX, loop=loop)
        protocol = asyncio.StreamReaderProtocol(reader, loop=loop)
        async with asyncio.timeout(self._limits.handshake_s):
            transport, _ = await loop.connect_accepted_socket(
                lambda: protocol,
                connection,
                ssl=self._settings(),
                ssl_handshake_timeout=self._limits.handshake_s,
                ssl_shutdown_timeout=self._limits.linger_s,
            )
        return reader, asyncio.StreamWriter(transport, protocol, reader, loop)

    async def _serve_requests(self, client: Streams, visit: Visit) -> None:
        upstream: Streams | None = None
        try:
            while (head := await self._next_request(client[0])) is not None:
                self.gate.now(visit, Stage.ARRIVING)
                if upstream is None:
                    upstream = await self._connect(client[1])
                if upstream is None or not await self._exchange(head, client, upstream, visit):
                    return
                self.gate.now(visit, Stage.WAITING)
        finally:
            if upstream is not None:
                upstream[1].transport.abort()

    async def _next_request(self, reader: asyncio.StreamReader) -> RequestHead | None:
        """The next request's head; None when the client is through or has said nothing for long."""
        try:
            async with asyncio.timeout(self._limits.idle_s):
                first = await reader.read(1)
        except TimeoutError:
            return None
        if not first:
            return None
        try:
            async with asyncio.timeout(self._limits.head_s):
                # An empty line before a request is let pass (RFC 9112, 2.2).
                while first in (b"\r", b"\n"):
                    first = await reader.readexactly(1)
                data = first + await reader.readuntil(END_OF_HEAD)
        except TimeoutError as error:
            raise Malformed("The head of the request took too long.", 408) from error
        except asyncio.LimitOverrunError as error:
            raise Malformed(f"The head of a request has at most {HEAD_BYTES_MAX} bytes.", 431) from error
        return read_request(data)

    async def _connect(self, client: asyncio.StreamWriter) -> Streams | None:
        try:
            return await asyncio.open_connection(*self._upstream, limit=HEAD_BYTES_MAX)
        except OSError:
            await self._refuse(client, 503, "The server is not ready; send this again in a moment.")
            return None

    async def _exchange(self, head: RequestHead, client: Streams, upstream: Streams, visit: Visit) -> bool:
        """One request and its answer; whether the connection can serve another."""
        upstream[1].write(head.forwarded(visit.client))
        upload = asyncio.create_task(self._send_body(head, client[0], upstream[1]))
        answering = asyncio.create_task(self._answer_head(head, client[1], upstream[0]))
        try:
            await asyncio.wait((upload, answering), return_when=asyncio.FIRST_COMPLETED)
            if upload.done():
                upload.result()
                self.gate.now(visit, Stage.AT_WORK)
            async with asyncio.timeout(self._limits.answer_s):
                answer = await answering
            self.gate.now(visit, Stage.LEAVING)
            client[1].write(answer.data)
            await copy_body(answer.body, upstream[0], client[1], self._pace())
            if upload.done():
                return head.keep and answer.keep and upload.exception() is None and upload.result()
            await self._linger(upload, client[0])
            return False
        finally:
            await _give_up(upload, answering)

    async def _send_body(self, head: RequestHead, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> bool:
        """Hand the body on; False when the server took only a part, and has answered already."""
        if head.body.is_empty:
            return True
        try:
            await copy_body(head.body, reader, writer, self._pace())
        except ConnectionError:
            if writer.transport.is_closing():
                return False
            raise
        return True

    async def _answer_head(
        self, head: RequestHead, writer: asyncio.StreamWriter, reader: asyncio.StreamReader
    ) -> AnswerHead:
        while True:
            try:
                data = await reader.readuntil(END_OF_HEAD)
            except asyncio.IncompleteReadError as error:
                raise Malformed("The server went away; send this again in a moment.", 502) from error
            answer = read_answer(data, head.method)
            if answer.status >= 200:
                return answer
            writer.write(answer.data)

    async def _linger(self, upload: asyncio.Task[bool], reader: asyncio.StreamReader) -> None:
        """Let a client that still sends read its answer: a socket closed on unread data would take it away."""
        await _give_up(upload)
        with suppress(*LOST):
            async with asyncio.timeout(self._limits.linger_s):
                while await reader.read(BLOCK_BYTES):
                    pass

    def _pace(self) -> Pace:
        return Pace(self._limits.grace_s, self._limits.rate_bytes_per_s)

    async def _refuse(self, writer: asyncio.StreamWriter, status: int, detail: str) -> None:
        title = REASONS[status]
        body = json.dumps({"title": title, "status": status, "detail": detail}).encode()
        head = (
            f"HTTP/1.1 {status} {title}\r\nContent-Type: application/problem+json\r\n"
            f"Content-Length: {len(body)}\r\nConnection: close\r\n\r\n"
        )
        writer.write(head.encode() + body)
        async with asyncio.timeout(self._limits.linger_s):
            await writer.drain()

    async def _close(self, writer: asyncio.StreamWriter) -> None:
        writer.close()
        with suppress(*LOST):
            async with asyncio.timeout(self._limits.linger_s):
                await writer.wait_closed()
        writer.transport.abort()


async def _give_up(*tasks: asyncio.Task[bool] | asyncio.Task[AnswerHead]) -> None:
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
