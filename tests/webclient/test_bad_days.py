"""Bad days of sync with the real store and engine, against the real server; see `tests/sync/bad_days`.

In Node.js on an IndexedDB in memory for many days, in a browser for some.
"""

from __future__ import annotations

import time
from collections import Counter
from random import Random

import pytest
from playwright.sync_api import Page

from tests.sync.bad_days.world import TABS, World, quick_folder
from tests.webclient.browser_phone import BrowserPhone
from tests.webclient.node_phone import Fleet, NodePhone, fleet

DAYS, STEPS = 3, 110
BENCHMARK_DAYS = 100
NODE_DAYS = 30


def live_through(where: Page | Fleet, seed: int, steps: int) -> Counter[str]:
    def new_phone(_: Random, number: int) -> BrowserPhone | NodePhone:
        name = f"bad-day-{seed}-{number}"
        return NodePhone(where, name, TABS) if isinstance(where, Fleet) else BrowserPhone(where, name, TABS)

    with quick_folder() as folder:
        world = World(seed, folder, new_phone, steps=steps, faulty_values=False)
        try:
            world.run()
        except AssertionError as error:
            raise AssertionError(f"seed {seed}: {error}") from error
    return world.happened


@pytest.mark.parametrize("first", range(0, NODE_DAYS, NODE_DAYS // 2))
def test_many_bad_days_in_memory(first: int) -> None:
    with fleet() as phones:
        for seed in range(first, first + NODE_DAYS // 2):
            live_through(phones, seed, 240)


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
