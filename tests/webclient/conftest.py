"""A real Chromium and the client's files, for tests of single modules."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from tests.webclient.files import FileServer

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def chromium_path() -> str:
    path = shutil.which("chromium")
    assert path, "Install Chromium: these tests run the client's modules in a real browser."
    return path


@pytest.fixture(scope="session")
def browser(chromium_path: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path, headless=True, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def files() -> Iterator[FileServer]:
    server = FileServer()
    yield server
    server.close()


@pytest.fixture
def context(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context()
    yield context
    context.close()


@pytest.fixture
def page(context: BrowserContext, files: FileServer) -> Page:
    """A page of the client's origin that has loaded nothing of the client yet; an error on it fails the test."""
    page = context.new_page()
    page.goto(f"{files.url}/bench")
    return page


@pytest.fixture
def profile_folder(tmp_path: Path) -> Path:
    return tmp_path / "profile"
