"""`python -m tests.sync.bad_days --runs 1000 [--first 0] [--node]`: live through so many days; a failing seed is named.

`--node`: with the phones' real store and engine, in Node.js.
"""

from __future__ import annotations

import argparse
import logging
import time
from collections import Counter
from contextlib import nullcontext
from functools import partial
from random import Random

from tests.sync.bad_days.world import TABS, World, quick_folder
from tests.webclient.node_phone import Fleet, NodePhone, fleet


def main() -> None:
    """Run the seeds from `--first` on, and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--node", action="store_true")
    asked = parser.parse_args()
    with fleet() if asked.node else nullcontext() as phones:
        _live_through(range(asked.first, asked.first + asked.runs), phones)


def _live_through(seeds: range, phones: Fleet | None) -> None:
    logging.disable()  # the server tells of every failure that it is made to have
    happened: Counter[str] = Counter()
    began, began_cpu = time.monotonic(), time.process_time()
    for seed in seeds:
        with quick_folder() as folder:
            world = World(seed, folder)
            if phones is not None:
                new_phone = partial(_node_phone, phones, seed)
                world = World(seed, folder, new_phone, faulty_values=False)
            try:
                world.run()
            except BaseException:
                print(f"seed {seed} failed")
                raise
            happened += world.happened
    print(f"{len(seeds)} days from seed {seeds.start} without a failure", end=", ")
    print(f"{time.monotonic() - began:.0f} s, {time.process_time() - began_cpu:.0f} s of CPU")
    print(", ".join(f"{name} {count}" for name, count in happened.most_common()))


def _node_phone(phones: Fleet, seed: int, _: Random, number: int) -> NodePhone:
    return NodePhone(phones, f"bad-day-{seed}-{number}", TABS)


if __name__ == "__main__":
    main()
