"""A hundred bad days: phones, a network and a server that fail in every way, and nothing is lost; see `bad_days`.

`python -m tests.sync.bad_days --runs 1000` lives through more, `--first` begins at another seed.
"""

from __future__ import annotations

import pytest

from tests.sync.bad_days.world import World, quick_folder


@pytest.mark.parametrize("first", range(0, 100, 20))
def test_bad_days_lose_nothing_and_leave_all_phones_alike(first: int) -> None:
    for seed in range(first, first + 20):
        with quick_folder() as folder:
            try:
                World(seed, folder).run()
            except AssertionError as error:
                raise AssertionError(f"seed {seed}: {error}") from error
