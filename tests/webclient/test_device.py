"""Photos from files, the promise to keep data, the screen's light, and how the app is installed."""

from __future__ import annotations

import base64
import hashlib
import io
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Page

from tests.webclient.files import FileServer

READ_PHOTO = """async (data) => {
  const { readPhoto } = await import('/device/camera.js');
  const file = await (await fetch(data)).blob();
  return readPhoto(file).then(({ bytes, ...photo }) => ({ ...photo, size_bytes: bytes.byteLength,
    isBuffer: bytes instanceof ArrayBuffer }), (error) => ({ error: error.kind, message: error.message }));
}"""


def data_url(body: bytes, media_type: str) -> str:
    return f"data:{media_type};base64,{base64.b64encode(body).decode()}"


def jpeg(size: tuple[int, int], **options: Any) -> bytes:
    held = io.BytesIO()
    Image.linear_gradient("L").resize(size).convert("RGB").save(held, "JPEG", **options)
    return held.getvalue()


class TestPhotoFiles:
    def test_an_ordinary_photo_is_kept_as_it_is(self, page: Page) -> None:
        body = jpeg((1600, 1200))
        photo = page.evaluate(READ_PHOTO, data_url(body, "image/jpeg"))
        assert photo == {
            "sha256": hashlib.sha256(body).hexdigest(),
            "type": "image/jpeg",
            "size_bytes": len(body),
            "isBuffer": True,
            "width_px": 1600,
            "height_px": 1200,
        }

    def test_a_very_large_photo_is_made_smaller_and_keeps_its_shape(self, page: Page) -> None:
        photo = page.evaluate(READ_PHOTO, data_url(jpeg((6000, 4500)), "image/jpeg"))
        assert (photo["width_px"], photo["height_px"], photo["type"]) == (4096, 3072, "image/jpeg")

    def test_a_photo_taken_upright_is_made_smaller_upright(self, page: Page) -> None:
        exif = Image.Exif()
        exif[0x0112] = 6  # Orientation: turn right to see it upright (EXIF 2.3, tag 274)
        photo = page.evaluate(READ_PHOTO, data_url(jpeg((6000, 4500), exif=exif), "image/jpeg"))
        assert (photo["width_px"], photo["height_px"]) == (3072, 4096)

    def test_another_format_becomes_jpeg(self, page: Page) -> None:
        held = io.BytesIO()
        Image.new("RGB", (40, 30), "green").save(held, "BMP")
        photo = page.evaluate(READ_PHOTO, data_url(held.getvalue(), "image/bmp"))
        assert (photo["type"], photo["width_px"]) == ("image/jpeg", 40)

    @pytest.mark.parametrize("body", [b"this is text", jpeg((100, 100))[:300]])
    def test_what_is_no_picture_is_told(self, page: Page, body: bytes) -> None:
        failed = page.evaluate(READ_PHOTO, data_url(body, "image/jpeg"))
        assert failed["error"] == "broken"
        assert "choose another" in failed["message"]

    def test_a_file_of_100_mb_is_not_even_opened(self, page: Page) -> None:
        failed = page.evaluate(
            """async () => { const { readPhoto } = await import('/device/camera.js');
              return readPhoto(new Blob([new Uint8Array(100 * 1024 * 1024 + 1)])).catch((error) => error.message); }"""
        )
        assert "100 MB" in failed


def test_storage_state_counts_what_is_used(page: Page) -> None:
    code = "import('/device/storage.js').then((m) => m.storageState())"
    page.evaluate("caches.open('x').then((cache) => cache.put('/x', new Response(new Blob([new Uint8Array(1e6)]))))")
    state = page.evaluate(code)
    assert state["used_bytes"] > 900_000
    assert state["free_bytes"] > 0
    assert state["persisted"] in (True, False)
    assert page.evaluate("import('/device/storage.js').then((m) => m.keepStorage())") in (True, False)


def test_the_screen_is_held_lit_and_taken_again_after_the_page_was_hidden(page: Page) -> None:
    # The browser without a screen grants a lock of its own; what is asked of it is recorded by wrapping the real one.
    page.evaluate(
        """async () => {
          window.locks = [];
          const real = navigator.wakeLock.request.bind(navigator.wakeLock);
          navigator.wakeLock.request = (type) => real(type).then((lock) => (locks.push(lock), lock));
          const { createWakeLock } = await import('/device/wakelock.js');
          window.light = createWakeLock();
        }"""
    )
    assert page.evaluate("light.hold()") is True
    page.evaluate("locks[0].release()")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    page.wait_for_function("() => locks.length === 2 && !locks[1].released")
    page.evaluate("light.release()")
    assert page.evaluate("locks[1].released") is True
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert page.evaluate("locks.length") == 2


@pytest.mark.parametrize(
    ("agent", "touch", "how"),
    [
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605 Version/18.0 Safari/604",
            5,
            "share-menu",
        ),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15) AppleWebKit/605 Version/18.0 Safari/605", 5, "share-menu"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15) AppleWebKit/605 Version/18.0 Safari/605", 0, "browser-menu"),
        ("Mozilla/5.0 (Android 15; Mobile; rv:140.0) Gecko/140.0 Firefox/140.0", 5, "browser-menu"),
    ],
)
def test_the_way_onto_the_home_screen_is_known(
    new_context: Callable[..., BrowserContext], files: FileServer, agent: str, touch: int, how: str
) -> None:
    page = new_context(user_agent=agent).new_page()
    page.add_init_script(f"Object.defineProperty(navigator, 'maxTouchPoints', {{ get: () => {touch} }})")
    page.goto(f"{files.url}/bench")
    page.evaluate(
        """async () => { window.hints = [];
          const { watchInstall } = await import('/device/install.js');
          window.end = watchInstall((hint) => hints.push(hint.how)); }"""
    )
    assert page.evaluate("hints") == [how]
    page.evaluate("window.dispatchEvent(new Event('beforeinstallprompt'))")
    page.evaluate("window.dispatchEvent(new Event('appinstalled'))")
    assert page.evaluate("hints") == [how, "prompt", "installed"]
    page.evaluate("() => { end(); window.dispatchEvent(new Event('appinstalled')); }")
    assert len(page.evaluate("hints")) == 3
