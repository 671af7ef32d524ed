"""Running the application: waitress on one socket, until it is told to stop."""

from __future__ import annotations

import ctypes
import gc
import platform
import select
import signal
import socket
from collections.abc import Callable
from types import FrameType
from typing import Any, NoReturn

from flask import Flask
from waitress.server import create_server

from server.bodies import ARRIVING_BYTES_MAX, bounded_channel
from server.errors import Refused

PORT_DEFAULT = 8617
HOST_DEFAULT = "127.0.0.1"
# Requests are short; a photo keeps a thread busy for a second. Each thread costs a database connection.
THREADS = 4
# So many more objects made than freed before Python looks for unused rings among them: a large batch's.
NEW_OBJECTS = 20_000
# glibc's mallopt(3): the number of this setting, M_ARENA_MAX.
ARENA_MAX = -8
# More than the relay lets in, so that the relay's own limits decide.
CONNECTIONS_MAX = 200
RELAYED: dict[str, Any] = {
    "url_scheme": "https",
    "trusted_proxy": "127.0.0.1",
    "trusted_proxy_headers": {"x-forwarded-for"},
}


def bind(host: str, port: int) -> socket.socket:
    """A listening socket; port 0 takes a free one. Raises Refused when the address can't be had."""
    try:
        family, kind, _, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)[
            0
        ]
    except OSError as error:
        raise Refused(f"“{host}” is no address of this computer; give one with --host.") from error
    bound = socket.socket(family, kind)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind(address)
    except OSError as error:
        bound.close()
        raise Refused(
            f"Port {port} on {host} can't be had ({error.strerror}). Choose another with --port, or stop what uses it."
        ) from error
    return bound


def address_of(bound: socket.socket) -> str:
    """The address that a browser on this computer opens."""
    host, port = bound.getsockname()[:2]
    if host in ("0.0.0.0", "::"):  # noqa: S104 only compared
        host = "127.0.0.1"
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"


def serve(app: Flask, bound: socket.socket, ready: Callable[[], None], relayed: bool = False) -> None:
    """Answer requests until SIGTERM or SIGINT; requests at work are finished first.

    `ready` is called once connections are taken and a signal stops the server cleanly. With `relayed`, `bound` is on
    loopback and the home network's relay stands before it, whose word for the client's address is believed.
    """
    _share_one_arena()
    _collect_less()
    server = create_server(
        app,
        sockets=[bound],
        threads=THREADS,
        ident=None,
        clear_untrusted_proxy_headers=True,
        connection_limit=CONNECTIONS_MAX,
        # select() ends the loop when a file number passes 1023; where there is no poll(), numbers stay low.
        asyncore_use_poll=hasattr(select, "poll"),
        **(RELAYED if relayed else {}),
        # The parser bounds bodies before waitress would, and holds them in memory: a full disk stops no request.
        max_request_body_size=2**40,
        inbuf_overflow=ARRIVING_BYTES_MAX,
        # Answers too: they are whole in memory before they go, so a file beside them would only fail on a full disk.
        outbuf_overflow=2**40,
        recv_bytes=65536,
    )
    server.channel_class = bounded_channel()
    signal.signal(signal.SIGTERM, _stop)
    try:
        ready()
        server.run()
    except (SystemExit, KeyboardInterrupt):
        server.task_dispatcher.shutdown()
    server.close()


def _share_one_arena() -> None:
    """Let all threads take memory from one place: glibc would give each its own, and keep what any of them once used.

    Measured with the demonstration after a sync and all reports, with four threads and a small page cache each: 127 MB
    resident instead of 141 without the three. Elsewhere than on glibc nothing is done.
    """
    if platform.libc_ver()[0] == "glibc":
        ctypes.CDLL(None).mallopt(ARENA_MAX, 1)


def _collect_less() -> None:
    """Leave the modules, which stay anyway, out of Python's search for unused rings of objects, and search less often.

    Measured with 5,000 changes in one request: one such search, in the middle of 0.3 s, took 75 ms.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(NEW_OBJECTS, *gc.get_threshold()[1:])


def _stop(_number: int, _frame: FrameType | None) -> NoReturn:
    raise SystemExit(0)
