"""Bad days of sync with the real store and engine in a browser, against the real server; see `tests/sync/bad_days`."""

from __future__ import annotations

import time
from collections import Counter
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.sync.bad_days.world import TABS, World
from tests.webclient.browser_phone import BrowserPhone

DAYS, STEPS = 4, 110
BENCHMARK_DAYS = 100


def live_through(page: Page, seed: int, folder: Path, steps: int) -> Counter[str]:
    folder.mkdir()
    world = World(
        seed,
        folder,
        lambda _, number: BrowserPhone(page, f"bad-day-{seed}-{number}", TABS),
        steps=steps,
        faulty_values=False,
    )
    try:
        world.run()
    except AssertionError as error:
        raise AssertionError(f"seed {seed}: {error}") from error
    return world.happened


def test_the_real_store_and_engine_lose_nothing_on_bad_days(page: Page, tmp_path: Path) -> None:
    for seed in range(DAYS):
        live_through(page, seed, tmp_path / str(seed), STEPS)


@pytest.mark.benchmark
def test_a_hundred_bad_days_of_the_real_store_and_engine(page: Page, tmp_path: Path) -> None:
    began, happened = time.monotonic(), Counter[str]()
    for seed in range(BENCHMARK_DAYS):
        happened += live_through(page, seed, tmp_path / str(seed), 240)
    print(f"\n{BENCHMARK_DAYS} days in Chromium without a failure, {time.monotonic() - began:.0f} s")
    print(", ".join(f"{name} {count}" for name, count in happened.most_common()))
