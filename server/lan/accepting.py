"""Taking connections from one listening socket, each served by a task of its own, as far as a gate lets them in."""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import socket
from collections.abc import Awaitable, Callable
from contextlib import suppress

from server.lan.gate import Gate, Visit

log = logging.getLogger("leafwalk")

# What a phone may stumble over while it is at it: a lost signal, half a request, an early end.
LOST = (OSError, asyncio.IncompleteReadError, asyncio.LimitOverrunError, TimeoutError)


async def accept_all(
    listening: socket.socket, gate: Gate, serve_one: Callable[[socket.socket, Visit], Awaitable[None]]
) -> None:
    """Take connections until cancelled, each served by a task of its own, as far as the gate lets them in."""
    loop = asyncio.get_running_loop()
    listening.setblocking(False)
    listening.listen(128)

    async def attend(connection: socket.socket, client: str) -> None:
        current = asyncio.current_task()
        assert current is not None  # noqa: S101 a coroutine that runs is in a task
        visit = Visit(client, current.cancel)
        # asyncio does this only for sockets that name their protocol; without it small answers wait 40 ms.
        with suppress(OSError):
            connection.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        try:
            if gate.enter(visit):
                await serve_one(connection, visit)
            else:
                connection.close()
        except LOST:
            pass
        except Exception:
            log.exception("a connection ended with an error that is ours")
        finally:
            gate.leave(visit)

    async with asyncio.TaskGroup() as visits:
        while True:
            try:
                connection, address = await loop.sock_accept(listening)
            except OSError:
                # No more files can be opened now; those that close make room.
                await asyncio.sleep(0.1)
                continue
            visits.create_task(attend(connection, plain_address(address[0])))


def plain_address(address: str) -> str:
    """A client's address as one client is counted: an IPv4 address in IPv6's clothes is that IPv4 address."""
    parsed = ipaddress.ip_address(address.partition("%")[0])
    return str(getattr(parsed, "ipv4_mapped", None) or parsed)
