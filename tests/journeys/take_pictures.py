"""Takes the README's pictures of the real screens: `.venv/bin/python -m tests.journeys.take_pictures`."""

from __future__ import annotations

import tempfile
from pathlib import Path

from playwright.sync_api import Page, expect, sync_playwright

from tests.support.browser import find_browser
from tests.support.server import LiveServer, run_leafwalk, start_server, stop_server

PICTURES = Path(__file__).parent.parent.parent / "demo_db" / "screens"
SCREEN = {"viewport": {"width": 390, "height": 844}, "locale": "en-GB", "color_scheme": "light"}


def main() -> None:
    """Build the demonstration, walk through its screens and keep a picture of each that the README shows."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        built = run_leafwalk(home, "demo", "--no-serve")
        assert built.returncode == 0, built.stderr
        server = start_server(home, 0)
        try:
            take(server)
        finally:
            stop_server(server.process)


def take(server: LiveServer) -> None:
    """Pair a browser with the server and picture it."""
    found = find_browser()
    PICTURES.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=found.executable, args=list(found.flags), env=dict(found.env)
        )
        page = browser.new_page(**SCREEN)
        page.goto(f"{server.url}/#/pair/{server.pair()}")
        page.get_by_role("button", name="Pair", exact=True).click()
        expect(page.locator(".finding").first).to_be_visible(timeout=60_000)
        page.locator("#slip button").last.click()
        keep(page, "now")
        page.locator(".finding a.key").first.click()
        expect(page.locator("#visit")).to_be_visible()
        keep(page, "card")
        for name in ("round", "trees"):
            page.goto(f"{server.url}/#/{name}")
            expect(page.get_by_role("heading", level=1)).to_have_text(name.capitalize())
            page.wait_for_timeout(500)
            keep(page, name)
        browser.close()


def keep(page: Page, name: str) -> None:
    """Save what the screen shows, at a size that a page of text can hold."""
    page.evaluate("scrollTo(0, 0)")
    page.wait_for_timeout(300)
    page.screenshot(path=PICTURES / f"{name}.png")


if __name__ == "__main__":
    main()
