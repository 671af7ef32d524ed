"""Bad days of sync with the real store and engine in a browser, against the real server; see `tests/sync/bad_days`."""

from __future__ import annotations

import time
from collections import Counter
from random import Random

import pytest
from playwright.sync_api import Page

from tests.sync.bad_days.world import TABS, World, quick_folder
from tests.webclient.browser_phone import BrowserPhone

DAYS, STEPS = 3, 110
BENCHMARK_DAYS = 100


def live_through(page: Page, seed: int, steps: int) -> Counter[str]:
    def new_phone(_: Random, number: int) -> BrowserPhone:
        return BrowserPhone(page, f"bad-day-{seed}-{number}", TABS)

    with quick_folder() as folder:
        world = World(seed, folder, new_phone, steps=steps, faulty_values=False)
        try:
            world.run()
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
    return world.happened


def test_the_real_store_and_engine_lose_nothing_on_bad_days(page: Page) -> None:
    for seed in range(DAYS):
        live_through(page, seed, STEPS)


@pytest.mark.benchmark
def test_a_hundred_bad_days_of_the_real_store_and_engine(page: Page) -> None:
    began, happened = time.monotonic(), Counter[str]()
    for seed in range(BENCHMARK_DAYS):
        happened += live_through(page, seed, 240)
    print(f"\n{BENCHMARK_DAYS} days in Chromium without a failure, {time.monotonic() - began:.0f} s")
    print(", ".join(f"{name} {count}" for name, count in happened.most_common()))
