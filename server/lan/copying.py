"""Copying a body from one connection to another: no faster than it is taken, nor slower than the worst signal."""

from __future__ import annotations

import asyncio
import re

from server.lan.heads import Body, Malformed

BLOCK_BYTES = 64 * 1024
# Who is slower than this for long, or stands still for the grace, holds a place that others may need.
GRACE_S = 30.0
RATE_BYTES_PER_S = 4_000
LINE_BYTES_MAX = 1000
TRAILERS_MAX = 20
# No extensions: nobody uses them, and readers that disagree about them can be told different bodies.
_CHUNK = re.compile(rb"([0-9A-Fa-f]{1,8})\r\n")


class Pace:
    """Gives a copy as much time as its bytes need at the slowest allowed rate, and no step more than the grace.

    Without the second bound, a few quick megabytes would buy an hour of silence.
    """

    def __init__(self, grace_s: float = GRACE_S, rate_bytes_per_s: float = RATE_BYTES_PER_S) -> None:
        self._loop = asyncio.get_running_loop()
        self._grace_s = grace_s
        self._start_s = self._loop.time()
        self._rate = rate_bytes_per_s
        self._moved_bytes = 0

    def limit(self) -> asyncio.Timeout:
        """A bound for the next step."""
        earned_s = self._start_s + self._moved_bytes / self._rate
        return asyncio.timeout_at(min(self._loop.time(), earned_s) + self._grace_s)

    def moved(self, size_bytes: int) -> None:
        """Count bytes that went over."""
        self._moved_bytes += size_bytes


async def copy_body(body: Body, source: asyncio.StreamReader, sink: asyncio.StreamWriter, pace: Pace) -> None:
    """Copy a body whole.

    Raises TimeoutError when it is too slow, Malformed or IncompleteReadError when it isn't as announced, and OSError
    when the sink is gone.
    """
    if body.chunked:
        await _copy_chunks(source, sink, pace)
    elif body.length is None:
        while data := await _read(source, BLOCK_BYTES, pace):
            await _write(sink, data, pace)
    else:
        await _copy_bytes(body.length, source, sink, pace)


async def _copy_chunks(source: asyncio.StreamReader, sink: asyncio.StreamWriter, pace: Pace) -> None:
    while True:
        line = await _read_line(source, pace)
        match = _CHUNK.fullmatch(line)
        if match is None:
            raise Malformed("A chunk has no size.")
        size_bytes = int(match.group(1), 16)
        if size_bytes == 0:
            break
        await _write(sink, line, pace)
        await _copy_bytes(size_bytes, source, sink, pace)
        if await _read_line(source, pace) != b"\r\n":
            raise Malformed("A chunk is not as long as it says.")
        await _write(sink, b"\r\n", pace)
    for _ in range(TRAILERS_MAX):
        if await _read_line(source, pace) == b"\r\n":
            await _write(sink, b"0\r\n\r\n", pace)
            return
    raise Malformed("Too much follows the last chunk.")


async def _copy_bytes(left: int, source: asyncio.StreamReader, sink: asyncio.StreamWriter, pace: Pace) -> None:
    while left:
        data = await _read(source, min(BLOCK_BYTES, left), pace)
        if not data:
            raise asyncio.IncompleteReadError(b"", left)
        left -= len(data)
        await _write(sink, data, pace)


async def _read(source: asyncio.StreamReader, size_bytes: int, pace: Pace) -> bytes:
    async with pace.limit():
        return await source.read(size_bytes)


async def _read_line(source: asyncio.StreamReader, pace: Pace) -> bytes:
    async with pace.limit():
        line = await source.readuntil(b"\r\n")
    if len(line) > LINE_BYTES_MAX:
        raise Malformed("A line between chunks is too long.")
    return line


async def _write(sink: asyncio.StreamWriter, data: bytes, pace: Pace) -> None:
    async with pace.limit():
        sink.write(data)
        await sink.drain()
    pace.moved(len(data))
