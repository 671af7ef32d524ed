"""Who asks the TLS port in plain HTTP, since the address was typed without https, is sent to the right one."""

from __future__ import annotations

import asyncio
import re
import socket

from server.lan.heads import END_OF_HEAD, HEAD_BYTES_MAX

# The first byte of a TLS handshake record (RFC 8446, 5.1).
_HANDSHAKE = b"\x16"
_HOST = re.compile(rb"(?i)\r\nhost:[ \t]*([a-z0-9.-]{1,253}(?::\d{1,5})?)[ \t]*\r\n")


async def speaks_tls(connection: socket.socket) -> bool:
    """Wait for a connection's first byte and look at it, without taking it. Raises OSError when none comes."""
    loop = asyncio.get_running_loop()
    readable = loop.create_future()
    loop.add_reader(connection.fileno(), lambda: None if readable.done() else readable.set_result(None))
    try:
        await readable
    finally:
        loop.remove_reader(connection.fileno())
    first = connection.recv(1, socket.MSG_PEEK)
    if not first:
        raise ConnectionResetError
    return first == _HANDSHAKE


async def send_to_https(connection: socket.socket) -> None:
    """Answer a plain request with the same host's https address, whatever it asks for; nothing of ours is told."""
    reader, writer = await asyncio.open_connection(sock=connection, limit=HEAD_BYTES_MAX)
    try:
        named = _HOST.search(await reader.readuntil(END_OF_HEAD))
        if named is None:
            return
        # Not for ever: the browser would remember it when this port one day serves something else.
        head = b"HTTP/1.1 307 Temporary Redirect\r\nLocation: https://%s/\r\nCache-Control: no-store\r\n" % named.group(
            1
        )
        writer.write(head + b"Content-Length: 0\r\nConnection: close" + END_OF_HEAD)
        await writer.drain()
        writer.write_eof()
        await reader.read(HEAD_BYTES_MAX)
    finally:
        writer.close()
