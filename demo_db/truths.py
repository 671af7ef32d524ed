"""What is truly wrong in the demonstration, tree by tree, so that findings can be held against it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from demo_db.orchard import plant
from demo_db.season import STANDS_FOR

SEED = 20_260_614


@dataclass(frozen=True, slots=True)
class Truth:
    """One planted trouble.

    `tag` as it is when the story ends; `since` the day of its cause; `finding` the kind of alert that it deserves;
    `likely` the causes, any of which is a right answer (empty: no cause is asked for).
    """

    tag: str
    tree: str
    trouble: str
    since: date
    finding: str | None
    likely: tuple[str, ...]


def planted(today: date, seed: int = SEED) -> list[Truth]:
    """The troubles of the collection that `build(home, today, seed)` makes, in walking order."""
    return [
        Truth(
            tag=tree.tag,
            tree=tree.id,
            trouble=tree.trouble.name,
            since=today + (date(STANDS_FOR.year, *tree.trouble.starts) - STANDS_FOR),
            finding=tree.trouble.finding,
            likely=tree.trouble.likely,
        )
        for tree in plant(seed)
        if tree.trouble is not None
    ]


def sound_tags(seed: int = SEED) -> set[str]:
    """The tags of the trees that have no trouble; they lose about 0.3 % of their leaves a day, and no more."""
    return {tree.tag for tree in plant(seed) if tree.trouble is None}
