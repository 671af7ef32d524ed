"""A name on the home network that outlives addresses: leafwalk.local, by multicast DNS (RFC 6762)."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import socket
from collections.abc import Sequence

from zeroconf import (  # type: ignore[attr-defined]
    DNSAddress,
    DNSOutgoing,
    DNSQuestion,
    Error,
    RecordUpdate,
    RecordUpdateListener,
    ServiceInfo,
    Zeroconf,
)
from zeroconf.asyncio import AsyncZeroconf

log = logging.getLogger("leafwalk")

NAME = "leafwalk"
DNS_TYPE_A, DNS_CLASS_IN, DNS_QUERY = 1, 1, 0  # RFC 1035, 3.2.2, 3.2.4 and 4.1.1
SERVICE = "_https._tcp.local."
NAMES_MAX = 9
# A holder that has answered another a moment ago may keep silent for a second (RFC 6762, 6), so we ask twice, further
# apart than that. Having heard ourselves, from another server of ours on this computer, we listen on for who else
# answers; each answer pushes others out of the cache (RFC 6762, 10.2), so we remember what we heard ourselves.
ASK_AGAIN_S = 1.1
ANSWER_S_MAX = 1.5
SECOND_ANSWER_S = 1.0
CLOSE_S_MAX = 5
FAILURES = (OSError, Error, TimeoutError, RuntimeError)


class LocalName:
    """Announces `base`.local, or with a number behind it, for as long as it is open; for one event loop."""

    def __init__(self, base: str = NAME) -> None:
        self._base = base
        self._zeroconf: AsyncZeroconf | None = None
        self._announcing: asyncio.Future[object] | None = None

    async def announce(self, addresses: Sequence[str], port: int, last: str | None) -> str:
        """Take a free name for these addresses, the `last` one if it is still free; the name without a dot at its end.

        Raises OSError or zeroconf's errors when the network takes no multicast.
        """
        await self.close()
        for address in addresses:
            # zeroconf would leave a socket open behind it when it finds out by itself that an address is gone.
            with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as tried:
                tried.bind((address, 0))
        self._zeroconf = AsyncZeroconf(interfaces=list(addresses))
        await self._zeroconf.zeroconf.async_wait_for_start()
        name = await self._free_name(addresses, last)
        info = ServiceInfo(
            SERVICE,
            f"Leafwalk on {socket.gethostname().split('.')[0][:30]}.{SERVICE}",
            port,
            server=f"{name}.",
            addresses=[socket.inet_aton(address) for address in addresses],
        )
        # The announcements go out one after another; nobody needs to wait for the last.
        self._announcing = asyncio.ensure_future(
            await self._zeroconf.async_register_service(info, allow_name_change=True)
        )
        return name

    async def close(self) -> None:
        """Tell the network that the name is gone."""
        if self._zeroconf is None:
            return
        closing, self._zeroconf = self._zeroconf, None
        try:
            if self._announcing is not None:
                self._announcing.cancel()
                await asyncio.wait([self._announcing])
            async with asyncio.timeout(CLOSE_S_MAX):
                await closing.async_close()
        except FAILURES:
            log.info("the farewell by multicast DNS failed", exc_info=True)

    async def _free_name(self, addresses: Sequence[str], last: str | None) -> str:
        names = [f"{self._base}.local", *(f"{self._base}-{number}.local" for number in range(2, NAMES_MAX + 1))]
        for name in dict.fromkeys([*([last] if last else []), *names]):
            if await self._is_free(name, addresses):
                return name
        raise OSError(f"the names {names[0]} to {names[-1]} are all taken")

    async def _is_free(self, name: str, addresses: Sequence[str]) -> bool:
        """Whether nobody else answers to a name. Another server of ours on this computer may share it."""
        assert self._zeroconf is not None  # noqa: S101 only called while open
        zeroconf, question = self._zeroconf.zeroconf, DNSQuestion(f"{name}.", DNS_TYPE_A, DNS_CLASS_IN)
        heard = _Holders(f"{name}.", set(addresses))
        zeroconf.async_add_listener(heard, question)
        try:
            for wait_s in (ASK_AGAIN_S, ANSWER_S_MAX - ASK_AGAIN_S):
                query = DNSOutgoing(DNS_QUERY)
                query.add_question(question)
                zeroconf.async_send(query)
                if await heard.another_within(wait_s):
                    return False
            return not (heard.ours and await heard.another_within(SECOND_ANSWER_S))
        finally:
            zeroconf.async_remove_listener(heard)


class _Holders(RecordUpdateListener):
    """Who answers to a name: we, from another server of ours, or another computer."""

    def __init__(self, name: str, addresses: set[str]) -> None:
        super().__init__()
        self.ours = False
        self._name, self._addresses = name.lower(), addresses
        self._another = asyncio.Event()

    def async_update_records(self, zc: Zeroconf, now: float, records: list[RecordUpdate]) -> None:
        """Called by zeroconf, in the event loop, with what came in."""
        for record in (each.new for each in records):
            if isinstance(record, DNSAddress) and record.type == DNS_TYPE_A and record.key == self._name:
                if socket.inet_ntoa(record.address) in self._addresses:
                    self.ours = True
                else:
                    self._another.set()

    async def another_within(self, wait_s: float) -> bool:
        """Whether another computer has answered already, or does so while we wait."""
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._another.wait(), wait_s)
        return self._another.is_set()
