"""The service worker: every file kept, started without network, and a new version only when it is asked for."""

from __future__ import annotations

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


def serve_version(files: FileServer, version: str, text: str) -> None:
    files.precache = {"version": version, "files": LISTED}
    files.pages["/"] = ("text/html", f"<!doctype html><title>{text}</title><link rel=icon href=data:,>".encode())


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
    page.evaluate(
        """async () => {
          const registration = await navigator.serviceWorker.getRegistration();
          await registration.update();
          const worker = registration.installing ?? registration.waiting;
          while (worker.state !== 'installed') {
            await new Promise((resolve) => worker.addEventListener('statechange', resolve, { once: true }));
          }
        }"""
    )
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
    files.precache["files"] = [*LISTED, "/not/there.js"]
    state = page.evaluate(
        """async () => {
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
    )
    assert state == "redundant"
    page.reload()
    assert page.title() == "first"
