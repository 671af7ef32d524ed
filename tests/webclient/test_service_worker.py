"""The service worker: every file kept, started without network, and a new version only when it is asked for."""

from __future__ import annotations

import base64
import hashlib

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.webclient.files import Answer, FileServer

LISTED = ["/", "/core/ids.js", "/vendor/idb/index.js", "/vendor/zxing-wasm/reader/zxing_reader.wasm"]
REGISTER = """async () => {
  const registration = await navigator.serviceWorker.register('/sw.js');
  await navigator.serviceWorker.ready;
  if (!navigator.serviceWorker.controller) {
    await new Promise((resolve) => { navigator.serviceWorker.oncontrollerchange = resolve; });
  }
}"""
# Asks for the worker again and tells what became of it.
UPDATED = """async () => {
  const registration = await navigator.serviceWorker.getRegistration();
  const found = new Promise((resolve) => registration.addEventListener('updatefound',
    () => resolve(registration.installing), { once: true }));
  registration.update().catch(() => {});
  const worker = await found;
  while (!['installed', 'redundant'].includes(worker.state)) {
    await new Promise((resolve) => worker.addEventListener('statechange', resolve, { once: true }));
  }
  return worker.state;
}"""


def serve_version(files: FileServer, version: str, text: str) -> None:
    files.pages["/"] = ("text/html", f"<!doctype html><title>{text}</title><link rel=icon href=data:,>".encode())
    files.precache = {"version": version, "files": {path: integrity(files.file(path)[1]) for path in LISTED}}


def integrity(data: bytes) -> str:
    """W3C Subresource Integrity, section 3.1."""
    return f"sha256-{base64.b64encode(hashlib.sha256(data).digest()).decode()}"


def start(page: Page, files: FileServer) -> None:
    serve_version(files, "1", "first")
    page.goto(files.url)
    page.evaluate(REGISTER)


def test_every_listed_file_is_there_without_network(page: Page, files: FileServer, context: BrowserContext) -> None:
    start(page, files)
    context.set_offline(True)
    page.reload()
    assert page.title() == "first"
    sizes = page.evaluate(
        "(files) => Promise.all(files.map(async (f) => (await (await fetch(f)).arrayBuffer()).byteLength))", LISTED
    )
    assert sizes == [len(files.file(path)[1]) for path in LISTED]
    assert page.evaluate("import('/core/ids.js').then((m) => m.isId(m.newId()))")
    page.goto(f"{files.url}/t/7K3WPD?from=tag#x")
    assert page.title() == "first", "a scanned address is the same page"


def test_listed_files_come_from_the_phone_even_with_network(page: Page, files: FileServer) -> None:
    start(page, files)
    files.asked.clear()
    page.reload()
    page.evaluate("import('/core/ids.js')")
    assert [asked for asked in files.asked if not asked.endswith("/sw.js")] == []


def test_the_api_passes_by(page: Page, files: FileServer) -> None:
    start(page, files)
    answers = iter(["one", "two"])
    files.api = lambda request: Answer.of(next(answers))
    for expected in ("one", "two"):
        assert page.evaluate("fetch('/api/v1/overview').then((answer) => answer.json())") == expected
    cached = page.evaluate(
        """async () => (await Promise.all((await caches.keys()).map(async (name) =>
          (await (await caches.open(name)).keys()).map((request) => new URL(request.url).pathname)))).flat()"""
    )
    assert sorted(cached) == sorted(LISTED)


def test_a_new_version_waits_until_the_page_asks_for_it(page: Page, files: FileServer) -> None:
    start(page, files)
    page.evaluate("caches.open('somebody elses')")
    serve_version(files, "2", "second")
    assert page.evaluate(UPDATED) == "installed"
    page.reload()
    assert page.title() == "first", "a form in progress keeps its version"
    page.evaluate(
        """async () => {
          const changed = new Promise((resolve) =>
            navigator.serviceWorker.addEventListener('controllerchange', resolve, { once: true }));
          (await navigator.serviceWorker.getRegistration()).waiting.postMessage('use-new-version');
          await changed;
        }"""
    )
    page.reload()
    assert page.title() == "second"
    page.wait_for_function("async () => (await caches.keys()).length === 2")
    assert sorted(page.evaluate("caches.keys()")) == ["leafwalk-files-2", "somebody elses"]


def test_a_version_with_a_missing_file_never_takes_over(page: Page, files: FileServer) -> None:
    start(page, files)
    serve_version(files, "2", "second")
    files.precache["files"]["/not/there.js"] = integrity(b"not here")
    assert page.evaluate(UPDATED) == "redundant"
    page.reload()
    assert page.title() == "first"


@pytest.mark.parametrize("path", ["/", "/core/ids.js"])
def test_a_sign_in_page_in_the_place_of_a_file_is_not_kept_and_the_next_try_is_whole(
    page: Page, files: FileServer, path: str
) -> None:
    start(page, files)
    serve_version(files, "2", "second")
    true = files.pages.get(path)
    files.pages[path] = ("text/html", b"<!doctype html><title>Hotel Wi-Fi: sign in</title>")
    assert page.evaluate(UPDATED) == "redundant"
    page.reload()
    assert page.title() == "first"
    assert page.evaluate("import('/core/ids.js').then((m) => m.isId(m.newId()))")
    if true:
        files.pages[path] = true
    else:
        del files.pages[path]
    assert page.evaluate(UPDATED) == "installed"
