"""`leafwalk serve --lan` as a household meets it: what it prints, hands out, counts, and what it keeps to itself."""

from __future__ import annotations

import http.client
import json
import re
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from hashlib import sha256
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import zxingcpp
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from PIL import Image

from server.api.pairing import TRIES_A_MINUTE
from server.lan.relay import Limits
from tests.lan.relayed import is_closed
from tests.lan.served import LanServer, serving_lan
from tests.lan.slow import SOURCES, delays_ms, expecting, slow_body, slow_reader, slow_sockets
from tests.lan.test_certificates import own_files
from tests.support.server import API, run_leafwalk

WRONG_CODE = json.dumps({"code": "00000000", "device_name": "x"})
DELAY_MS_MAX = 50
# How long one may wait to be let in where someone else has to be shown out first.
LET_IN_MS_MAX = 3000


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LanServer]:
    with serving_lan(tmp_path_factory.mktemp("lan") / "home") as started:
        yield started


def page(server: LanServer, path: str = "/", method: str = "GET") -> tuple[int, bytes, http.client.HTTPMessage]:
    """What the plain port answers."""
    connection = http.client.HTTPConnection(urlsplit(server.page_url).netloc, timeout=20)
    connection.request(method, path)
    answer = connection.getresponse()
    data = answer.read()
    connection.close()
    return answer.status, data, answer.headers


def codes_in(printed: str) -> list[str]:
    """The square codes in a terminal's text, read from a picture of it."""
    found = []
    for block in re.findall(r"(?:^[█▀▄ \xa0]{20,}\n)+", printed, flags=re.MULTILINE):
        rows = [[mark in half for mark in line] for line in block.splitlines() for half in ("█▀", "█▄")]
        picture = Image.new("L", (len(rows[0]), len(rows)))
        picture.putdata([255 if bright else 0 for row in rows for bright in row])
        (read,) = zxingcpp.read_barcodes(picture.resize((picture.width * 6, picture.height * 6)))
        found.append(read.text)
    return found


def test_it_prints_addresses_codes_and_the_fingerprint(server: LanServer) -> None:
    assert f"https://127.0.0.1:{server.port}" in server.printed
    first, second = codes_in(server.printed)
    assert first == server.address
    assert second == server.page_url
    der = ssl.PEM_cert_to_DER_cert(server.authority.read_text())
    assert server.fingerprint.replace(":", "").lower() == sha256(der).hexdigest()


def test_a_phone_that_trusts_the_authority_is_served_and_others_are_not(server: LanServer) -> None:
    status, told, headers = server.ask("GET", f"{API}/health")
    assert (status, told["status"]) == (200, "ok")
    # The address may change hands; a browser that insists on https there would lock its owner out.
    assert headers["Strict-Transport-Security"] is None
    with server.connect() as connection:
        assert connection.version() in ("TLSv1.2", "TLSv1.3")
    plain = socket.create_connection(("127.0.0.1", server.port), timeout=20)
    with plain, pytest.raises(ssl.SSLCertVerificationError):
        ssl.create_default_context().wrap_socket(plain, server_hostname="127.0.0.1")


def test_pairing_leads_to_the_https_address(server: LanServer) -> None:
    made = json.loads(server.leafwalk("pair", "--json").stdout)
    assert made["url"] == f"{server.address}/#/pair/{made['code']}"
    assert server.ask("GET", f"{API}/settings", Authorization=f"Bearer {server.pair()}")[0] == 200


def test_tries_are_counted_by_who_asks_whatever_they_claim(server: LanServer) -> None:
    for number in range(TRIES_A_MINUTE):
        claims = {"X_Forwarded_For": f"10.0.0.{number}", "Forwarded": f"for=10.0.0.{number}"}
        assert server.ask("POST", f"{API}/pair", WRONG_CODE, source="127.0.0.50", **claims)[0] == 403
    status, problem, headers = server.ask("POST", f"{API}/pair", WRONG_CODE, source="127.0.0.50")
    assert (status, problem["status"]) == (429, 429)
    assert int(headers["Retry-After"]) > 0
    spoofed = {"X_Forwarded_For": "127.0.0.51"}
    assert server.ask("POST", f"{API}/pair", WRONG_CODE, source="127.0.0.50", **spoofed)[0] == 429
    assert server.ask("POST", f"{API}/pair", WRONG_CODE, source="127.0.0.51")[0] == 403


def test_the_page_shows_the_fingerprint_and_runs_nothing(server: LanServer) -> None:
    status, data, headers = page(server)
    text = data.decode()
    assert (status, headers["Content-Type"]) == (200, "text/html; charset=utf-8")
    shown = re.sub(r"<br>|\s", "", re.search(r"<code>(.*?)</code>", text, re.DOTALL).group(1))  # type: ignore[union-attr]
    assert shown == server.fingerprint.replace(":", "")
    assert "<script" not in text
    assert not re.search(r"\son\w+=|\sstyle=|javascript:", text)
    policy = headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "unsafe" not in policy
    for address in (f"https://127.0.0.1:{server.port}/", "iPhone", "Android", "Certificate Trust Settings"):
        assert address in text
    assert "[[" not in text


def test_the_certificate_comes_in_the_form_that_phones_install(server: LanServer) -> None:
    status, data, headers = page(server, "/leafwalk-authority.crt")
    assert (status, headers["Content-Type"]) == (200, "application/x-x509-ca-cert")
    served = x509.load_der_x509_certificate(data)
    assert served == x509.load_pem_x509_certificate(server.authority.read_bytes())
    assert served.public_bytes(Encoding.DER) == data
    status, nothing, headers = page(server, "/leafwalk-authority.crt", "HEAD")
    assert (status, nothing, headers["Content-Length"]) == (200, b"", str(len(data)))


def test_the_plain_port_serves_nothing_else(server: LanServer) -> None:
    paths = [
        *(f"{API}/health", f"{API}/pair", f"{API}/sync", "/app.js", "/sw.js", "/index.html", "/t/ABC", "/server.pem"),
        *("/authority.pem", "/../certificates/authority.pem", "/%2e%2e/authority.pem", "//", "/page.html"),
    ]
    for path in paths:
        assert page(server, path)[0] == 404, path
    for method in ("POST", "PUT", "DELETE", "OPTIONS"):
        assert page(server, f"{API}/pair", method)[0] == 405
    with socket.create_connection(urlsplit(server.page_url).netloc.split(":"), timeout=20) as connection:
        connection.sendall(b"nonsense\r\n\r\n")
        assert b" 400 " in connection.recv(1000)
        assert is_closed(connection)


def test_the_server_itself_listens_on_loopback_alone(server: LanServer) -> None:
    import psutil

    listening = [
        each.laddr for each in psutil.Process(server.process.pid).net_connections("tcp") if each.status == "LISTEN"
    ]
    assert len(listening) == 3
    assert {each.ip for each in listening} == {"127.0.0.1"}


def test_fifty_half_open_and_slow_sockets_delay_nobody(server: LanServer) -> None:
    quiet = delays_ms(server, 25)
    with slow_sockets(server, 50) as still_open:
        busy = delays_ms(server, 25)
        assert still_open() == 50
    assert busy[len(busy) // 2] - quiet[len(quiet) // 2] < DELAY_MS_MAX, (quiet, busy)


@pytest.mark.parametrize("kind", [slow_body, slow_reader, expecting])
def test_a_house_full_of_dawdlers_lets_another_in(
    kind: Callable[[LanServer, str], socket.socket], server: LanServer
) -> None:
    """As many as the relay takes in all and from each address, every one beyond its request's head."""
    limits = Limits()
    assert limits.connections == limits.connections_per_client * len(SOURCES)
    with ExitStack() as opened:
        for source in SOURCES * limits.connections_per_client:
            opened.enter_context(kind(server, source))
        assert delays_ms(server, 5)[-1] < LET_IN_MS_MAX


def test_it_stops_when_told_and_comes_back_with_the_same_certificate(tmp_path: Path) -> None:
    kept = []
    for number in (signal.SIGTERM, signal.SIGINT):
        with serving_lan(tmp_path / "home") as started:
            kept.append((started.fingerprint, (started.home / "certificates" / "server.pem").read_bytes()))
            with started.connect():
                began = time.monotonic()
                started.process.send_signal(number)
                assert started.process.wait(timeout=15) == 0
            assert time.monotonic() - began < 10
            assert started.process.stdout is not None
            assert "Traceback" not in started.process.stdout.read()
    assert kept[0] == kept[1]


def test_the_growers_own_certificate_is_served_instead(tmp_path: Path) -> None:
    certificate, key = own_files(tmp_path)
    with serving_lan(tmp_path / "home", "--certificate", str(certificate), "--key", str(key)) as started:
        assert f"at https://trees.local:{started.port}" in started.printed
        assert "http://" not in started.printed
        pem = ssl.get_server_certificate(("127.0.0.1", started.port), timeout=20)
        assert x509.load_pem_x509_certificate(pem.encode()) == x509.load_pem_x509_certificate(certificate.read_bytes())
        assert not (started.home / "certificates").exists()
        url = json.loads(started.leafwalk("pair", "--json").stdout)["url"]
        assert url.startswith(f"https://trees.local:{started.port}/#/pair/")


def test_what_can_not_be_served_is_refused(tmp_path: Path) -> None:
    certificate, key = own_files(tmp_path)
    key.write_text("no key")
    lan = ("serve", "--lan", "--host", "127.0.0.1", "--port", "0")
    done = run_leafwalk(tmp_path / "home", *lan, "--certificate", str(certificate), "--key", str(key))
    assert (done.returncode, done.stdout) == (1, "")
    assert "--key" in done.stderr
    assert "Traceback" not in done.stderr
    for wrong in (("--certificate", str(certificate)), ("--key", str(key))):
        assert run_leafwalk(tmp_path / "home", *lan, *wrong).returncode == 2
    alone = run_leafwalk(tmp_path / "home", "serve", "--certificate", str(certificate), "--key", str(key))
    assert alone.returncode == 2


def test_help_loads_nothing_of_it() -> None:
    script = (
        "import sys; from server.cli import main; main(['serve', '--help'], standalone_mode=False);"
        " print(sorted({'cryptography', 'zeroconf', 'asyncio', 'ssl'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert "--lan" in done.stdout
    assert done.stdout.splitlines()[-1] == "[]"
