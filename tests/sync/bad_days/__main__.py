"""`python -m tests.sync.bad_days --runs 1000 [--first 0]`: live through so many days; a seed that fails is named."""

from __future__ import annotations

import argparse
import logging
import time
from collections import Counter

from tests.sync.bad_days.world import World, quick_folder


def main() -> None:
    """Run the seeds from `--first` on, and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    logging.disable()  # the server tells of every failure that it is made to have
    happened: Counter[str] = Counter()
    began, began_cpu = time.monotonic(), time.process_time()
    for seed in range(asked.first, asked.first + asked.runs):
        with quick_folder() as folder:
            world = World(seed, folder)
            try:
                world.run()
            except BaseException:
                print(f"seed {seed} failed")
                raise
            happened += world.happened
    print(f"{asked.runs} days from seed {asked.first} without a failure", end=", ")
    print(f"{time.monotonic() - began:.0f} s, {time.process_time() - began_cpu:.0f} s of CPU")
    print(", ".join(f"{name} {count}" for name, count in happened.most_common()))


if __name__ == "__main__":
    main()
