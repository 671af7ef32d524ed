"""A real browser on HTTPS at home: camera and service worker, kept from plain HTTP, and the page that leads there."""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, expect

from tests.lan.served import LanServer, serving_lan
from tests.support.camera import fake_camera
from tests.webclient.orchard import AWAY

PHONE = {"viewport": {"width": 390, "height": 844}}
FIRST_FRAME = """
async () => {
  const stream = await navigator.mediaDevices.getUserMedia({ video: true });
  const [track] = stream.getVideoTracks();
  const { width, height } = track.getSettings();
  track.stop();
  return [width, height];
}
"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LanServer]:
    with serving_lan(tmp_path_factory.mktemp("lan") / "home") as started:
        yield started


def key_hash(server: LanServer) -> str:
    """The server's public key, as Chromium wants it named when it is to be trusted without an authority."""
    certificate = x509.load_pem_x509_certificate((server.home / "certificates" / "server.pem").read_bytes())
    key = certificate.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    return base64.b64encode(sha256(key).digest()).decode()


def test_camera_and_service_worker_work_at_the_plain_address(
    server: LanServer,
    launch_browser: Callable[..., Browser],
    new_context: Callable[..., BrowserContext],
    tmp_path: Path,
) -> None:
    film = fake_camera([Image.new("RGB", (640, 480), "#4d7a35")], tmp_path / "film.y4m")
    trusting = launch_browser(film, (f"--ignore-certificate-errors-spki-list={key_hash(server)}",))
    try:
        context = new_context(browser=trusting, allowed=AWAY, **PHONE)
        page = context.new_page()
        url = server.leafwalk("pair", "--json").stdout.split('"url": "')[1].split('"')[0]
        page.goto(server.url + url[url.index("/#/pair/") :])
        page.get_by_role("button", name="Pair", exact=True).click()
        expect(page.get_by_role("heading", level=1, name="Now")).to_be_visible()
        assert page.evaluate("isSecureContext")
        assert page.evaluate(FIRST_FRAME) == [640, 480]
        page.wait_for_function("navigator.serviceWorker.ready.then((r) => r.active.state === 'activated')")
        page.reload()
        page.wait_for_function("navigator.serviceWorker.controller !== null")
        context.set_offline(True)
        page.reload()
        expect(page.get_by_role("heading", level=1, name="Now")).to_be_visible()
        context.close()
    finally:
        trusting.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_is_readable_and_obeys_its_own_policy(
    scheme: str, server: LanServer, new_context: Callable[..., BrowserContext]
) -> None:
    page = new_context(color_scheme=scheme, **PHONE).new_page()
    page.goto(server.page_url)
    for summary in page.locator("summary").all():
        summary.click()
    expect(page.get_by_text("Certificate Trust Settings")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") in ("rgb(245, 238, 223)", "rgb(21, 26, 20)")
    found = Axe().run(page).response["violations"]
    assert [each["id"] for each in found] == []
    with page.expect_download() as download:
        page.get_by_role("link", name="Fetch the certificate").click()
    der = Path(download.value.path()).read_bytes()
    assert x509.load_der_x509_certificate(der) == x509.load_pem_x509_certificate(server.authority.read_bytes())
