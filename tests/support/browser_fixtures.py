"""Fixtures that hand tests a real browser and fail the test for any error its pages report."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import psutil
import pytest
from playwright.sync_api import Browser, BrowserContext, Playwright, sync_playwright

from tests.support.browser import Found, find_browser
from tests.support.camera import camera_flags

LAUNCH_MS_MAX = 30_000


class PageErrors:
    """What the pages of watched contexts reported as an error: on the console, or uncaught."""

    def __init__(self) -> None:
        self.seen: list[str] = []

    def watch(self, context: BrowserContext, allowed: Sequence[str] = ()) -> BrowserContext:
        """Gather the errors of `context`, but those that match one of the regular expressions in `allowed`."""

        def note(text: str) -> None:
            if not any(re.search(pattern, text) for pattern in allowed):
                self.seen.append(text)

        context.on(
            "console",
            lambda message: (
                note(f"console: {message.text} ({message.location.get('url')})") if message.type == "error" else None
            ),
        )
        context.on("weberror", lambda error: note(f"uncaught: {error.error}"))
        return context


@pytest.fixture(scope="session")
def found_browser() -> Found:
    """Where the browser of this machine is, and what it needs to start."""
    return find_browser()


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """The one Playwright of the session; its synchronous interface can't be opened twice."""
    with sync_playwright() as opened:
        yield opened


@pytest.fixture(scope="session")
def launch_browser(playwright: Playwright, found_browser: Found) -> Callable[..., Browser]:
    """`launch_browser(film=None, flags=())`: a browser of its own, `film` playing as its camera. The caller closes."""

    def launch(film: Path | None = None, flags: Sequence[str] = ()) -> Browser:
        return playwright.chromium.launch(
            executable_path=found_browser.executable,
            args=[*found_browser.flags, *(camera_flags(film) if film else ()), *flags],
            env=dict(found_browser.env),
            timeout=LAUNCH_MS_MAX,
        )

    return launch


@pytest.fixture(scope="session")
def browser(launch_browser: Callable[..., Browser]) -> Iterator[Browser]:
    """The browser that the tests of a session share; each test opens contexts of its own with `new_context`."""
    opened = launch_browser()
    yield opened
    opened.close()


@pytest.fixture
def page_errors() -> Iterator[PageErrors]:
    """Errors of all pages that this test watches; any that stands there at the end fails it."""
    errors = PageErrors()
    yield errors
    if errors.seen:
        pytest.fail("A page reported errors:\n  " + "\n  ".join(errors.seen), pytrace=False)


@pytest.fixture
def new_context(browser: Browser, page_errors: PageErrors) -> Iterator[Callable[..., BrowserContext]]:
    """`new_context(allowed=(), browser=None, **options)`: a fresh watched context, closed after the test.

    `allowed` are regular expressions of errors that the test provokes; `browser`
    is another browser than the shared one; `options` are Browser.new_context's.
    """
    opened: list[BrowserContext] = []

    def open_context(allowed: Sequence[str] = (), browser: Browser = browser, **options: Any) -> BrowserContext:
        context = page_errors.watch(browser.new_context(**options), allowed)
        opened.append(context)
        return context

    yield open_context
    for context in opened:
        context.close()


@pytest.fixture
def launch_profile(
    playwright: Playwright, found_browser: Found, page_errors: PageErrors
) -> Iterator[Callable[..., BrowserContext]]:
    """`launch_profile(folder, film=None, allowed=(), **options)`: a browser that keeps its data in `folder`.

    Opened again on the same folder after `context.close()` or `kill_profile(folder)`,
    it finds what the pages stored. Options are launch_persistent_context's.
    """
    folders: list[Path] = []

    def launch(folder: Path, film: Path | None = None, allowed: Sequence[str] = (), **options: Any) -> BrowserContext:
        folders.append(folder)
        context = playwright.chromium.launch_persistent_context(
            folder,
            executable_path=found_browser.executable,
            args=[*found_browser.flags, *(camera_flags(film) if film else ())],
            env=dict(found_browser.env),
            timeout=LAUNCH_MS_MAX,
            **options,
        )
        return page_errors.watch(context, allowed)

    yield launch
    for folder in folders:
        kill_profile(folder)


def kill_profile(folder: Path) -> int:
    """End the browser that keeps its data in `folder` at once, as a phone does when memory runs out; how many died.

    Only this process's own children are looked at.
    """
    mark = f"--user-data-dir={folder}"
    doomed = [each for each in psutil.Process().children(recursive=True) if mark in _command_line(each)]
    for process in doomed:
        process.kill()
    psutil.wait_procs(doomed, timeout=10)
    return len(doomed)


def _command_line(process: psutil.Process) -> list[str]:
    try:
        return process.cmdline()
    except psutil.Error:
        return []
