"""The client's files, and pages of their origin, for tests of single modules in a real browser."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.support.server import LiveServer
from tests.webclient.files import FileServer


@pytest.fixture
def files() -> Iterator[FileServer]:
    """The client's files on a port of their own."""
    server = FileServer()
    yield server
    server.close()


@pytest.fixture
def context(new_context: Callable[..., BrowserContext]) -> BrowserContext:
    """A fresh profile; what a page reports as an error fails the test."""
    return new_context()


@pytest.fixture
def page(context: BrowserContext, files: FileServer) -> Page:
    """A page of the client's origin that has loaded nothing of the client yet."""
    page = context.new_page()
    page.goto(f"{files.url}/bench")
    return page


@pytest.fixture
def live_server(home: Path, launch_server: Callable[..., LiveServer]) -> LiveServer:
    """The real server on an empty collection, started without the wait."""
    return launch_server(home, forked=True)
