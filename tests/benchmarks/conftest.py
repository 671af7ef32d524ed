"""A phone with 300 trees and 40 rounds of each, without signal, its processor slowed four times."""

from __future__ import annotations

import csv
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE

TREES = 300
ROUNDS = 40
SLOWED_TIMES = 4


def write_collection(folder: Path) -> list[str]:
    folder.mkdir()
    tags = [ids.new_tag_code() for _ in range(TREES)]
    with (folder / "trees.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["tag", "variety", "place", "pot_litres", "position"])
        rows.writerows([tag, f"Variety {at % 60}", f"Place {at % 8}", 19, at] for at, tag in enumerate(tags))
    now = datetime.now().astimezone().replace(microsecond=0)
    with (folder / "observations.csv").open("w", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["tag", "seen_at", "shoots", "leaves_per_shoot", "leaves_fallen", "shoot_cm"])
        for turn in range(ROUNDS):
            seen = now - timedelta(days=4 * (ROUNDS - turn))
            rows.writerows([tag, seen.isoformat(), 8, 5 + turn % 3, turn % 2, 10 + turn / 4] for tag in tags)
    return tags


@pytest.fixture
def stocked(live_server: LiveServer, tmp_path: Path) -> tuple[LiveServer, list[str]]:
    """A server with the whole collection, and its tags."""
    tags = write_collection(tmp_path / "big")
    done = live_server.leafwalk("import", str(tmp_path / "big"))
    assert done.returncode == 0, done.stderr
    return live_server, tags


@pytest.fixture
def phone(
    stocked: tuple[LiveServer, list[str]], new_context: Callable[..., BrowserContext]
) -> tuple[Page, LiveServer, list[str]]:
    server, tags = stocked
    page = new_context(AWAY, **PHONE).new_page()
    page.goto(f"{server.url}/#/pair/{server.pair()}")
    page.get_by_role("button", name="Pair", exact=True).click()
    expect(page.locator("#pocket-line small")).to_contain_text("just now", timeout=60_000)
    page.wait_for_function("navigator.serviceWorker.ready.then((r) => r.active.state === 'activated')")
    page.context.set_offline(True)
    slow_down(page)
    return page, server, tags


def slow_down(page: Page) -> None:
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWED_TIMES})
