"""The front follows what changes around it: new addresses, certificates near their end, names that others have."""

from __future__ import annotations

import asyncio
import queue
import socket
import ssl
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TypeVar

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from zeroconf import IPVersion, ServiceBrowser, ServiceInfo, Zeroconf

from server.errors import Refused
from server.lan.address import EVERY_ADDRESS, served_addresses
from server.lan.authority import issue, new_authority, read_pem
from server.lan.certificates import OwnCertificates
from server.lan.front import Front, Plan, Reach
from server.lan.names import SERVICE, LocalName
from tests.lan.relayed import GET, Relayed, read_answer, relayed
from tests.lan.test_certificates import own_files
from tests.support.server import LiveServer, start_server, stop_server

T = TypeVar("T")
CHECK_S = 0.2
CHANGE_S_MAX = 20


@pytest.fixture(scope="module")
def home_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    """The real server behind the fronts of this module."""
    started = start_server(tmp_path_factory.mktemp("server") / "home", 0)
    yield started
    stop_server(started.process)


@pytest.fixture
def upstream(home_server: LiveServer) -> tuple[str, int]:
    return "127.0.0.1", int(home_server.url.rsplit(":", 1)[1])


def served_by(relay: Relayed) -> x509.Certificate:
    """The certificate that a newcomer is shown."""
    with relay.connect(name="localhost") as connection:
        shown = connection.getpeercert(binary_form=True)
    assert shown is not None
    return x509.load_der_x509_certificate(shown)


def addresses_of(certificate: x509.Certificate) -> set[str]:
    names = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(each) for each in names.get_values_for_type(x509.IPAddress)}


def asked(connection: ssl.SSLSocket) -> int:
    connection.sendall(GET + b"\r\n")
    return read_answer(connection)[0]


def test_a_new_address_brings_a_new_certificate_and_drops_nobody(tmp_path: Path, upstream: tuple[str, int]) -> None:
    changes: queue.Queue[Reach] = queue.Queue()
    now: list[tuple[str, ...]] = [("127.0.0.1",)]
    with relayed(tmp_path, upstream, None, lambda _host: now[0], CHECK_S, changes.put) as relay:
        assert addresses_of(served_by(relay)) == {"127.0.0.1"}
        with relay.connect() as connection:
            assert asked(connection) == 200
            now[0] = ("127.0.0.1", "127.0.0.9")
            reach = changes.get(timeout=CHANGE_S_MAX)
            assert f"https://127.0.0.9:{relay.port}" in reach.addresses
            assert addresses_of(served_by(relay)) == {"127.0.0.1", "127.0.0.9"}
            assert asked(connection) == 200, "the connection of before"


def test_a_certificate_near_its_end_is_renewed_while_serving(tmp_path: Path, upstream: tuple[str, int]) -> None:
    changes: queue.Queue[Reach] = queue.Queue()
    with relayed(tmp_path, upstream, check_s=CHECK_S, on_change=changes.put) as relay, relay.connect() as connection:
        before = served_by(relay)
        assert asked(connection) == 200
        folder = relay.home / "certificates"
        authority = read_pem((folder / "authority.pem").read_bytes())
        old = issue(authority, [], [], datetime.now(UTC) - timedelta(days=370))
        (folder / "server.pem").write_bytes(old.to_pem())
        changes.get(timeout=CHANGE_S_MAX)
        after = served_by(relay)
        assert after.serial_number not in (before.serial_number, old.certificate.serial_number)
        assert after.not_valid_after_utc > datetime.now(UTC) + timedelta(days=395)
        assert asked(connection) == 200


def test_a_damaged_authority_stops_the_start_with_a_reason(tmp_path: Path, upstream: tuple[str, int]) -> None:
    (tmp_path / "certificates").mkdir()
    (tmp_path / "certificates" / "authority.pem").write_text("scribble")
    with pytest.raises(Refused, match="damaged"), relayed(tmp_path, upstream):
        pass


def test_a_replaced_own_certificate_is_served_from_then_on(tmp_path: Path, upstream: tuple[str, int]) -> None:
    certificate, key = own_files(tmp_path)
    changes: queue.Queue[Reach] = queue.Queue()
    listening = socket.create_server(("127.0.0.1", 0))
    port = listening.getsockname()[1]
    front = Front(Plan(listening, upstream, OwnCertificates(certificate, key), check_s=CHECK_S), changes.put)
    try:
        reach = front.start()
        assert reach.addresses[0] == f"https://trees.local:{port}"
        assert (reach.fingerprint, reach.page_url) == (None, None)
        shown = []
        for _ in range(2):
            pem = ssl.get_server_certificate(("127.0.0.1", port), timeout=20)
            shown.append(x509.load_pem_x509_certificate(pem.encode()))
            assert shown[-1] == x509.load_pem_x509_certificate(certificate.read_bytes())
            if len(shown) == 1:
                own_files(tmp_path)
                changes.get(timeout=CHANGE_S_MAX)
        assert shown[0] != shown[1]
    finally:
        front.stop()
        listening.close()


def looked_up(zeroconf: Zeroconf, until: Callable[[ServiceInfo], bool]) -> ServiceInfo | None:
    """The first service of ours that a phone's browser finds and `until` takes."""
    found: queue.Queue[str] = queue.Queue()
    browser = ServiceBrowser(
        zeroconf, SERVICE, handlers=[lambda zeroconf, service_type, name, state_change: found.put(name)]
    )
    end = time.monotonic() + CHANGE_S_MAX
    try:
        while (left := end - time.monotonic()) > 0:
            try:
                info = zeroconf.get_service_info(SERVICE, found.get(timeout=left))
            except queue.Empty:
                break
            if info is not None and until(info):
                return info
    finally:
        browser.cancel()
    return None


def apart(task: Callable[[], T]) -> T:
    """Run it in a thread of its own: zeroconf would join the loop that a browser's driver runs in the tests' thread."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(task).result()


def test_phones_find_the_server_by_name(tmp_path: Path, upstream: tuple[str, int]) -> None:
    def look(port: int) -> ServiceInfo | None:
        zeroconf = Zeroconf(interfaces=["127.0.0.1"])
        try:
            return looked_up(zeroconf, lambda each: each.port == port)
        finally:
            zeroconf.close()

    with relayed(tmp_path, upstream, None, lambda host: (host,)) as relay:
        info = apart(lambda: look(relay.port))
        assert info is not None
        assert info.parsed_addresses(IPVersion.V4Only) == ["127.0.0.1"]
        name = str(info.server).rstrip(".")
        assert relay.reach.addresses == (f"https://{name}:{relay.port}", f"https://127.0.0.1:{relay.port}")
        assert name.startswith("leafwalk")
        with relay.connect(name=name) as connection:
            assert asked(connection) == 200


async def names_taken_in_turn(base: str, *last: str | None) -> list[str]:
    """The names that a server takes, one start after another, when its certificate carries these."""
    taken = LocalName(base)
    try:
        return [await taken.announce(["127.0.0.1"], 8617, each) for each in last]
    finally:
        await taken.close()


@pytest.mark.parametrize("holders", [("127.0.0.99",), ("127.0.0.1", "127.0.0.99")])
def test_a_name_that_another_computer_has_is_left_to_it(holders: tuple[str, ...]) -> None:
    """In the second case another server of ours on this computer, which may share our name, answers as well."""
    base = f"trial-{uuid.uuid4().hex[:8]}"

    def beside_others() -> list[str]:
        others = [Zeroconf(interfaces=["127.0.0.1"]) for _ in holders]
        try:
            for address, other in zip(holders, others, strict=True):
                kind, packed = "_http._tcp.local.", [socket.inet_aton(address)]
                name = f"{base} at {address[-2:]}.{kind}"
                other.register_service(ServiceInfo(kind, name, 80, server=f"{base}.local.", addresses=packed))
            return asyncio.run(names_taken_in_turn(base, None, f"{base}-7.local", f"{base}.local"))
        finally:
            for other in others:
                other.close()

    first, kept, lost = apart(beside_others)
    assert first == f"{base}-2.local"
    assert kept == f"{base}-7.local", "a home keeps the name that its phones know"
    assert lost == f"{base}-2.local", "but not one that another computer has taken meanwhile"


def test_without_multicast_the_plain_address_serves(tmp_path: Path, upstream: tuple[str, int]) -> None:
    # No network interface of this computer has this address (RFC 5737), so that no multicast socket can be opened.
    with relayed(tmp_path, upstream, None, lambda _host: ("203.0.113.77",)) as relay:
        assert relay.reach.addresses == (f"https://203.0.113.77:{relay.port}",)
        assert any("multicast" in remark for remark in relay.reach.remarks)
        with relay.connect() as connection:
            assert asked(connection) == 200


def test_without_network_it_serves_and_says_so(tmp_path: Path, upstream: tuple[str, int]) -> None:
    with relayed(tmp_path, upstream) as relay:
        assert relay.reach.addresses == (f"https://localhost:{relay.port}",)
        assert "no network" in relay.reach.remarks[0]


def test_an_address_that_no_phone_would_trust_is_told(tmp_path: Path, upstream: tuple[str, int]) -> None:
    folder = tmp_path / "certificates"
    folder.mkdir()
    (folder / "authority.pem").write_bytes(new_authority(datetime.now(UTC)).to_pem())
    with relayed(tmp_path, upstream, None, lambda _host: ("203.0.113.77",)) as relay:
        assert any("203.0.113.77 is no address of a home network" in remark for remark in relay.reach.remarks)


def test_addresses_of_this_computer() -> None:
    assert served_addresses("127.0.0.1") == ("127.0.0.1",)
    found = served_addresses(EVERY_ADDRESS)
    assert not [each for each in found if each.startswith(("127.", "169.254.", "0."))]
    for address in found:
        socket.create_server((address, 0)).close()


def test_the_authority_on_disk_is_what_is_handed_out(tmp_path: Path, upstream: tuple[str, int]) -> None:
    with relayed(tmp_path, upstream) as relay:
        public = x509.load_pem_x509_certificate((tmp_path / "certificates" / "authority.crt").read_bytes())
        made = read_pem((tmp_path / "certificates" / "authority.pem").read_bytes()).certificate
        assert public == made
        assert public.public_bytes(serialization.Encoding.DER) != served_by(relay).public_bytes(
            serialization.Encoding.DER
        )
