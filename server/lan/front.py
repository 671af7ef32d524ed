"""The front of a server on the home network: relay, page and name in a thread of their own, kept up to date."""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
import threading
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding

from server.errors import LeafwalkError, Unavailable
from server.lan.address import EVERY_ADDRESS, served_addresses
from server.lan.authority import fingerprint, may_sign_for
from server.lan.certificates import HomeCertificates, OwnCertificates
from server.lan.names import FAILURES, LocalName
from server.lan.page import CERTIFICATE_PATH, CERTIFICATE_TYPE, Handout, PageServer, installation_page
from server.lan.relay import Limits, Relay

log = logging.getLogger("leafwalk")

CHECK_S = 60
START_S_MAX, STOP_S_MAX = 60, 10


@dataclass(frozen=True, slots=True)
class Reach:
    """How phones reach the server now: addresses, the best first; with our own authority also its page; remarks."""

    addresses: tuple[str, ...]
    fingerprint: str | None = None
    page_url: str | None = None
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """What the front is to serve: sockets that are bound already, where the server listens, and with which certificate.

    `page` is None with the grower's own certificate, which phones trust already.
    """

    listening: socket.socket
    upstream: tuple[str, int]
    certificates: HomeCertificates | OwnCertificates
    page: socket.socket | None = None
    limits: Limits | None = None
    check_s: float = CHECK_S
    addresses: Callable[[str], tuple[str, ...]] = served_addresses


class Front:
    """Runs from `start` to `stop`; `on_change` is told of every new reach, from a thread of the front's own."""

    def __init__(self, plan: Plan, on_change: Callable[[Reach], None]) -> None:
        self._plan = plan
        self._on_change = on_change
        self._name = LocalName()
        self._pages = PageServer()
        self._addresses: tuple[str, ...] = ()
        self._is_settled = False
        self._settings: ssl.SSLContext | None = None
        self._ready: Future[Reach] = Future()
        self._stop: Callable[[], object] = lambda: None
        self._thread = threading.Thread(target=self._run, name="lan", daemon=True)

    def start(self) -> Reach:
        """Serve; returns when connections are taken. Raises Refused when the certificates are no good."""
        self._thread.start()
        return self._ready.result(START_S_MAX)

    def stop(self) -> None:
        """End all connections and give the name back."""
        with suppress(RuntimeError):  # the loop has ended by itself
            self._stop()
        self._thread.join(STOP_S_MAX)

    def _run(self) -> None:
        # The selector's loop on every system: a proactor's sockets can't be accepted by hand.
        with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
            try:
                runner.run(self._serve())
            except BaseException as error:
                if self._ready.done():
                    log.exception("serving the home network has ended")
                else:
                    self._ready.set_exception(error)

    async def _serve(self) -> None:
        stopped = asyncio.Event()
        loop = asyncio.get_running_loop()
        self._stop = lambda: loop.call_soon_threadsafe(stopped.set)
        reach = await self._settle()
        self._is_settled = True
        relay = Relay(self._plan.upstream, self._current_settings, self._plan.limits)
        at_work = [relay.serve(self._plan.listening), self._keep_up_to_date()]
        if self._plan.page is not None:
            at_work.append(self._pages.serve(self._plan.page))
        tasks = [asyncio.create_task(each) for each in at_work]
        loop.call_soon(self._ready.set_result, reach)
        waiting = asyncio.create_task(stopped.wait())
        try:
            await asyncio.wait((*tasks, waiting), return_when=asyncio.FIRST_COMPLETED)
        finally:
            for task in (*tasks, waiting):
                task.cancel()
            ended = await asyncio.gather(*tasks, return_exceptions=True)
            await self._name.close()
        for failure in ended:
            if isinstance(failure, Exception):
                raise failure

    def _current_settings(self) -> ssl.SSLContext:
        if self._settings is None:
            raise Unavailable("The certificates are not there yet.")
        return self._settings

    async def _keep_up_to_date(self) -> None:
        """Follow new addresses and renew certificates; connections that are open stay so."""
        while True:
            await asyncio.sleep(self._plan.check_s)
            try:
                if self._is_settled and self._look_up() == self._addresses and not self._plan.certificates.is_due():
                    continue
                self._is_settled = False
                await asyncio.to_thread(self._on_change, await self._settle())
                self._is_settled = True
            except (LeafwalkError, OSError, ValueError):
                log.warning(
                    "addresses or certificates could not be brought up to date; another try follows", exc_info=True
                )

    def _look_up(self) -> tuple[str, ...]:
        return self._plan.addresses(self._plan.listening.getsockname()[0])

    async def _settle(self) -> Reach:
        self._addresses = self._look_up()
        if isinstance(self._plan.certificates, OwnCertificates):
            self._settings = self._plan.certificates.settings()
            names = self._plan.certificates.names()
            return Reach(self._urls(*(names or self._addresses)))
        return await self._settle_home(self._plan.certificates)

    async def _settle_home(self, certificates: HomeCertificates) -> Reach:
        port = self._plan.listening.getsockname()[1]
        authority = certificates.authority(self._addresses).certificate
        names, remarks = [], []
        try:
            if self._addresses:
                names = [await self._name.announce(self._addresses, port, certificates.last_name())]
            else:
                remarks.append("This computer is on no network now; phones reach it as soon as it is.")
        except FAILURES as error:
            log.info("multicast DNS failed", exc_info=True)
            await self._name.close()
            remarks.append(f"No name by multicast DNS ({error}); phones use the plain address.")
        # A name that can't be announced today stays in the certificate for the day that it can.
        kept = names or [name for name in [certificates.last_name()] if name]
        self._settings = certificates.settings(kept, self._addresses)
        for address in self._addresses:
            if not may_sign_for(authority, address):
                remarks.append(f"{address} is no address of a home network, so no phone will trust it; use a name.")
        urls = self._urls(*names, *self._addresses) or self._urls("localhost")
        shown = fingerprint(authority)
        page_url = self._page_url()
        if page_url is not None:
            data = authority.public_bytes(Encoding.DER)
            self._pages.handouts = {
                "/": installation_page(page_url, urls, shown),
                CERTIFICATE_PATH: Handout(CERTIFICATE_TYPE, data),
            }
        return Reach(urls, shown, page_url, tuple(remarks))

    def _urls(self, *hosts: str) -> tuple[str, ...]:
        port = self._plan.listening.getsockname()[1]
        suffix = "" if port == 443 else f":{port}"
        return tuple(f"https://[{host}]{suffix}" if ":" in host else f"https://{host}{suffix}" for host in hosts)

    def _page_url(self) -> str | None:
        if self._plan.page is None:
            return None
        port = self._plan.page.getsockname()[1]
        # By its plain address: a phone that finds no names opens this page as well.
        return f"http://{(*self._addresses, 'localhost')[0]}:{port}"


def open_front(
    bind: Callable[[str, int], socket.socket],
    host: str | None,
    port: int,
    upstream: tuple[str, int],
    home: Path,
    own: tuple[Path, Path] | None,
    on_change: Callable[[Reach], None],
) -> Front:
    """A front on `port` (0: a free one), its page on the port after it or, where that is taken, on a free one."""
    listening = bind(host or EVERY_ADDRESS, port)
    if own is not None:
        return Front(Plan(listening, upstream, OwnCertificates(*own)), on_change)
    bound_host, bound_port = listening.getsockname()[:2]
    page = _bind_page(bind, bound_host, bound_port + 1)
    return Front(Plan(listening, upstream, HomeCertificates(home / "certificates"), page), on_change)


def _bind_page(bind: Callable[[str, int], socket.socket], host: str, port: int) -> socket.socket:
    with suppress(LeafwalkError, OverflowError):
        return bind(host, port)
    return bind(host, 0)
