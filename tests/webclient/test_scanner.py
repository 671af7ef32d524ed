"""The scanner: pictures that Python's qrcode drew, as files and through the browser's fake camera."""

from __future__ import annotations

import base64
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import qrcode
import zxingcpp
from PIL import Image, ImageDraw, ImageFilter
from playwright.sync_api import Browser, BrowserContext, Page
from qrcode.constants import ERROR_CORRECT_Q
from qrcode.image.pil import PilImage

from tests.support.camera import fake_camera
from tests.webclient.files import FileServer

CODE = "7K3WPD"
MAKE = """async () => {
  const { createScanner } = await import('/device/scanner.js');
  window.texts = []; window.states = [];
  window.scanner = createScanner({ onText: (text) => texts.push(text), onState: (state) => states.push(state) });
}"""
READ = """async (data) => {
  const blob = await (await fetch(data)).blob();
  return scanner.readFile(blob).catch((error) => ({ error: error.kind, message: error.message }));
}"""
START = """async () => {
  document.body.replaceChildren(Object.assign(document.createElement('video'), { id: 'view' }));
  return scanner.start(document.getElementById('view')).then(() => 'started', (error) => error.kind);
}"""


def drawn_code(text: str, module_px: int = 8) -> Image.Image:
    code = qrcode.QRCode(error_correction=ERROR_CORRECT_Q, box_size=module_px, border=4, image_factory=PilImage)
    code.add_data(text)
    return code.make_image().get_image().convert("RGB")


def on_scene(code: Image.Image, size: tuple[int, int], at: tuple[int, int]) -> Image.Image:
    """A code somewhere on a busy ground, as a tag among leaves."""
    scene = Image.new("RGB", size, (70, 90, 50))
    draw = ImageDraw.Draw(scene)
    for i in range(0, size[0], 23):
        draw.ellipse((i, (i * 7) % size[1], i + 60, (i * 7) % size[1] + 30), fill=(90 + i % 60, 120, 60))
    scene.paste(code, at)
    return scene


def ean13_bars(digits: str) -> str:
    """Bars and gaps of an EAN-13, by the patterns of ISO/IEC 15420 (from memory; the test reads it with zxing-cpp)."""
    odd = ["0001101", "0011001", "0010011", "0111101", "0100011", "0110001", "0101111", "0111011", "0110111", "0001011"]
    right = ["".join("10"[int(bit)] for bit in pattern) for pattern in odd]
    even = [pattern[::-1] for pattern in right]
    # Digits 2 to 7 take odd or even patterns by the first digit; here a 4.
    left = [(even if turn == "E" else odd)[int(d)] for d, turn in zip(digits[1:7], "OEOOEE", strict=True)]
    return "".join(["101", *left, "01010", *(right[int(d)] for d in digits[7:]), "101"])


def data_url(picture: Image.Image, form: str = "PNG") -> str:
    held = io.BytesIO()
    picture.save(held, form)
    return f"data:image/{form.lower()};base64,{base64.b64encode(held.getvalue()).decode()}"


@pytest.fixture
def reader(page: Page) -> Callable[[str], Any]:
    page.evaluate(MAKE)
    page.evaluate("scanner.prepare()")
    return lambda url: page.evaluate(READ, url)


class TestPictureFiles:
    @pytest.mark.parametrize("text", [CODE, f"HTTPS://GARDEN.EXAMPLE/T/{CODE}"])
    def test_a_tag_is_read(self, reader: Callable[[str], Any], text: str) -> None:
        assert reader(data_url(drawn_code(text))) == text

    @pytest.mark.parametrize("degrees", [17, 90, 200])
    def test_a_turned_blurred_tag_in_a_large_photo_is_read(self, reader: Callable[[str], Any], degrees: int) -> None:
        code = drawn_code(CODE, 12).rotate(degrees, expand=True, fillcolor=(255, 255, 255))
        scene = on_scene(code, (4000, 3000), (2600, 400)).filter(ImageFilter.GaussianBlur(2))
        assert reader(data_url(scene, "JPEG")) == CODE

    def test_a_tag_that_fills_a_huge_photo_is_read(self, reader: Callable[[str], Any]) -> None:
        assert reader(data_url(drawn_code(CODE, 120).filter(ImageFilter.GaussianBlur(9)))) == CODE

    def test_a_photo_without_a_tag_gives_nothing(self, reader: Callable[[str], Any]) -> None:
        assert reader(data_url(on_scene(Image.new("RGB", (10, 10)), (800, 600), (0, 0)))) is None

    def test_another_sort_of_code_gives_nothing(self, reader: Callable[[str], Any]) -> None:
        stripes = Image.new("RGB", (400, 200), "white")
        draw = ImageDraw.Draw(stripes)
        bars = ean13_bars("4006381333931")
        for i, bar in enumerate(bars):
            if bar == "1":
                draw.rectangle((40 + 3 * i, 20, 42 + 3 * i, 180), fill="black")
        assert [found.text for found in zxingcpp.read_barcodes(stripes)] == ["4006381333931"], "it is a good one"
        assert reader(data_url(stripes)) is None

    def test_a_file_that_is_no_picture_is_told(self, reader: Callable[[str], Any]) -> None:
        failed = reader("data:image/jpeg;base64,aGVsbG8=")
        assert failed["error"] == "broken"
        assert "picture" in failed["message"]

    def test_the_reader_comes_from_home_alone(
        self, reader: Callable[[str], Any], files: FileServer, page: Page
    ) -> None:
        assert reader(data_url(drawn_code(CODE))) == CODE
        assert "GET /vendor/zxing-wasm/reader/zxing_reader.wasm" in files.asked
        names = page.evaluate("performance.getEntriesByType('resource').map((entry) => entry.name)")
        assert all(name.startswith((files.url, "data:")) for name in names)


class TestCamera:
    @pytest.fixture
    def filmed(
        self, launch_browser: Callable[..., Browser], new_context: Callable[..., BrowserContext], files: FileServer
    ) -> Any:
        opened: list[Browser] = []

        def film(pictures: list[Image.Image], path: Path) -> Page:
            browser = launch_browser(film=fake_camera(pictures, path))
            opened.append(browser)
            page = new_context(browser=browser).new_page()
            page.goto(f"{files.url}/bench")
            page.evaluate(MAKE)
            return page

        yield film
        for browser in opened:
            browser.close()

    def test_tags_before_the_camera_are_read_one_after_another(self, filmed: Any, tmp_path: Path) -> None:
        codes = [CODE, "00001R"]
        pictures = [on_scene(drawn_code(code, 7), (1280, 720), (520, 240)) for code in codes]
        page = filmed(pictures, tmp_path / "film.y4m")
        assert page.evaluate(START) == "started"
        page.wait_for_function("() => new Set(texts).size === 2", timeout=20_000)
        assert set(page.evaluate("texts")) == set(codes)
        page.evaluate("scanner.stop()")
        assert page.evaluate("states") == ["starting", "looking", "stopped"]
        assert page.evaluate("document.getElementById('view').srcObject") is None
        heard = len(page.evaluate("texts"))
        page.wait_for_timeout(600)
        assert len(page.evaluate("texts")) == heard, "nothing is looked at after the stop"

    def test_a_tag_at_the_edge_is_found_in_the_whole_frame(self, filmed: Any, tmp_path: Path) -> None:
        page = filmed([on_scene(drawn_code(CODE, 7), (1280, 720), (20, 20))], tmp_path / "film.y4m")
        page.evaluate(START)
        page.wait_for_function("() => texts.length > 0", timeout=20_000)
        assert page.evaluate("texts[0]") == CODE

    def test_a_tag_that_stays_before_the_camera_is_one_scan(self, filmed: Any, tmp_path: Path) -> None:
        page = filmed([on_scene(drawn_code(CODE, 7), (640, 480), (200, 120))], tmp_path / "film.y4m")
        page.evaluate(START)
        page.wait_for_function("() => texts.length > 0", timeout=20_000)
        page.wait_for_timeout(3000)
        assert page.evaluate("texts") == [CODE]

    def test_a_frame_becomes_a_photo_with_its_fingerprint(self, filmed: Any, tmp_path: Path) -> None:
        page = filmed([on_scene(drawn_code(CODE, 7), (1280, 720), (520, 240))], tmp_path / "film.y4m")
        page.evaluate(START)
        page.wait_for_function("() => texts.length > 0", timeout=20_000)
        photo = page.evaluate(
            """async () => {
              const { grabPhoto } = await import('/device/camera.js');
              const { bytes, ...photo } = await grabPhoto(document.getElementById('view'));
              const text = await scanner.readFile(new Blob([bytes], { type: photo.type }));
              return { ...photo, text };
            }"""
        )
        assert (photo["width_px"], photo["height_px"], photo["type"], photo["text"]) == (1280, 720, "image/jpeg", CODE)
        assert not page.evaluate("scanner.hasTorch()"), "the fake camera has none"
        assert page.evaluate("scanner.torch(true)") is False

    def test_no_camera_is_told(self, page: Page) -> None:
        page.evaluate(MAKE)
        assert page.evaluate(START) in ("missing", "denied")

    def test_a_page_without_https_is_told(self, page: Page) -> None:
        page.evaluate("Object.defineProperty(navigator, 'mediaDevices', { value: undefined })")
        page.evaluate(MAKE)
        assert page.evaluate(START) == "insecure"
