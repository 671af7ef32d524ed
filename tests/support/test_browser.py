"""The browser that the tests stand on: found or refused with reasons, watched for errors, with a film as camera."""

from __future__ import annotations

import http.server
import itertools
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, BrowserContext

from tests.support import browser as finder
from tests.support.browser_fixtures import PageErrors, kill_profile
from tests.support.camera import fake_camera

PAGE = b"<!doctype html><title>Bench</title><meta name=viewport content='width=device-width'><h1>A leaf</h1>"
WORKER = b"self.addEventListener('fetch', e => e.respondWith(new Response('from the worker')));"


class Handler(http.server.BaseHTTPRequestHandler):
    """Serves one page and one service worker."""

    def do_GET(self) -> None:
        worker = self.path == "/worker.js"
        self.send_response(404 if self.path == "/missing" else 200)
        self.send_header("Content-Type", "text/javascript" if worker else "text/html")
        self.end_headers()
        self.wfile.write(WORKER if worker else PAGE)

    def log_message(self, *_: object) -> None:
        """Stay silent."""


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


def test_a_machine_without_any_browser_is_told_every_reason(tmp_path: Path) -> None:
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\necho no display library >&2\nexit 3\n")
    broken.chmod(0o755)

    def nothing() -> Iterator[finder.Found]:
        raise finder.NoBrowserError("nothing lies on PATH")
        yield

    def one_that_breaks() -> Iterator[finder.Found]:
        yield finder.Found("second", str(broken))

    with pytest.raises(finder.NoBrowserError) as caught:
        finder.search({"first": nothing, "second": one_that_breaks})
    assert "first: nothing lies on PATH" in str(caught.value)
    assert f"second: {broken} does not start" in str(caught.value)


def test_a_download_that_hangs_is_ended() -> None:
    with pytest.raises(finder.NoBrowserError, match="no result within 1 s"):
        finder._run(["sleep", "30"], 1)


def test_an_unknown_choice_is_refused_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("LEAFWALK_TEST_BROWSER", "netscape")
    with pytest.raises(finder.NoBrowserError, match=r"netscape.*system, playwright, sparticuz, apt"):
        finder.find_browser()


def test_the_browser_draws_a_page_of_this_machine(
    new_context: Callable[..., BrowserContext], address: str, tmp_path: Path
) -> None:
    page = new_context(viewport={"width": 390, "height": 300}).new_page()
    page.goto(address)
    page.screenshot(path=tmp_path / "seen.png")
    with Image.open(tmp_path / "seen.png") as seen:
        assert seen.size == (390, 300)
        assert len(seen.convert("L").getcolors() or ()) > 2, "the heading's letters must be there"


def test_a_service_worker_answers_when_the_network_is_off(
    new_context: Callable[..., BrowserContext], address: str
) -> None:
    context = new_context()
    page = context.new_page()
    page.goto(address)
    page.evaluate("navigator.serviceWorker.register('/worker.js').then(() => navigator.serviceWorker.ready)")
    context.set_offline(True)
    page.goto(address)
    assert page.inner_text("body") == "from the worker"


def test_errors_of_a_page_are_gathered_but_those_allowed(browser: Browser, address: str) -> None:
    errors = PageErrors()
    context = errors.watch(browser.new_context(), allowed=["404"])
    page = context.new_page()
    page.goto(address)
    page.evaluate("fetch('/missing')")
    page.evaluate("console.error('wilted')")
    page.evaluate("setTimeout(() => { throw new Error('fell off'); })")
    page.wait_for_timeout(200)
    context.close()
    assert [text.split(" (")[0] for text in errors.seen] == ["console: wilted", "uncaught: fell off"]


def test_a_film_plays_as_the_camera_with_its_colours_in_order(
    launch_browser: Callable[..., Browser],
    new_context: Callable[..., BrowserContext],
    address: str,
    tmp_path: Path,
) -> None:
    colours = [(200, 40, 40), (40, 160, 60), (50, 60, 190)]
    pictures = [Image.new("RGB", (320, 240), colour) for colour in colours]
    filming = launch_browser(film=fake_camera(pictures, tmp_path / "film.y4m", seconds_each=0.6))
    page = new_context(browser=filming).new_page()
    page.goto(address)
    seen = page.evaluate("""async () => {
        const stream = await navigator.mediaDevices.getUserMedia({ video: { width: 320, height: 240 } });
        const video = Object.assign(document.createElement('video'), { srcObject: stream, muted: true });
        await video.play();
        const canvas = new OffscreenCanvas(1, 1).getContext('2d');
        const shots = [];
        for (const end = performance.now() + 4000; performance.now() < end;) {
            await new Promise(requestAnimationFrame);
            canvas.drawImage(video, 0, 0, 1, 1);
            shots.push([...canvas.getImageData(0, 0, 1, 1).data.slice(0, 3)]);
        }
        return shots;
    }""")
    filming.close()
    order = [nearest for nearest in (closest(shot, colours) for shot in seen) if nearest is not None]
    steps = {(a, b) for a, b in itertools.pairwise(order) if a != b}
    assert steps == {(0, 1), (1, 2), (2, 0)}


def closest(shot: list[int], colours: list[tuple[int, int, int]]) -> int | None:
    """The colour within 12 of 255 in each channel: room for the camera's rounding and no more."""
    for index, colour in enumerate(colours):
        if all(abs(a - b) <= 12 for a, b in zip(shot, colour, strict=True)):
            return index
    return None


def test_what_a_page_stored_survives_the_browser_being_killed(
    launch_profile: Callable[..., BrowserContext], address: str, tmp_path: Path
) -> None:
    page = launch_profile(tmp_path / "profile").new_page()
    page.goto(address)
    page.evaluate("""() => new Promise((done, failed) => {
        const opening = indexedDB.open('bench', 1);
        opening.onupgradeneeded = () => opening.result.createObjectStore('things');
        opening.onsuccess = () => {
            const writing = opening.result.transaction('things', 'readwrite', { durability: 'strict' });
            writing.objectStore('things').put('kept', 1);
            writing.oncomplete = () => done();
            writing.onerror = () => failed(writing.error);
        };
    })""")
    assert kill_profile(tmp_path / "profile") > 0
    page = launch_profile(tmp_path / "profile").new_page()
    page.goto(address)
    kept = page.evaluate("""() => new Promise((done) => {
        const opening = indexedDB.open('bench', 1);
        opening.onsuccess = () => {
            const reading = opening.result.transaction('things').objectStore('things').get(1);
            reading.onsuccess = () => done(reading.result);
        };
    })""")
    assert kept == "kept"
