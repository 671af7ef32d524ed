"""Jobs that the time of year brings, read from the records: pot up, prune hard to the base, print a faded tag again."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from server.records.plans import TreeYear, tags_printed, trees_of_year

# A grower's settings; common practice, no published source.
POTTING_MONTHS = range(1, 5)
"""Pots are changed before growth begins."""
POTTING_DUE = (3, 15)
YEARS_IN_POT = 2
"""Roots fill a pot in about so many seasons."""
POT_LITRES_MAX = 60.0
"""A larger pot is not carried; its roots are pruned instead."""
PRUNING_MONTHS = range(1, 4)
PRUNING_DUE = (2, 15)
WEAK_SHARE = 0.4
"""Shoots that grew less than this share of what is usual in the species are weak."""
PEERS_MIN = 5
TAG_YEARS_MAX = 4
"""Ink on a tag in the sun fades in about so many years."""


@dataclass(frozen=True)
class YearsJob:
    """One job of the season, in the fields of a `Job`."""

    key: str
    task: str
    title: str
    level: str
    due_on: str | None
    why: list[str]
    advice: str
    tags: list[str]
    trees: list[str]
    caution: str | None = None


def years_jobs(on: date) -> list[YearsJob]:
    """What the records ask for at this time of year."""
    trees = trees_of_year(on.year - 1, on) if on.month in {*POTTING_MONTHS, *PRUNING_MONTHS} else []
    found = [*_weak(trees, on), *_root_bound(trees, on)]
    pruned = {job.trees[0] for job in found if job.task == "rejuvenate"}
    potted = [job for job in found if job.task != "pot_up" or job.trees[0] not in pruned]
    return [*potted, *_faded(on)]


def _root_bound(trees: list[TreeYear], on: date) -> list[YearsJob]:
    if on.month not in POTTING_MONTHS:
        return []
    last = (on - timedelta(days=int(365.25 * YEARS_IN_POT))).isoformat()
    due = date(on.year, *POTTING_DUE).isoformat()
    found = []
    for tree in trees:
        if tree.pot_litres is None or tree.potted_on is None or tree.potted_on > last:
            continue
        small = tree.pot_litres < POT_LITRES_MAX
        task, title = ("pot_up", "Pot up") if small else ("root_prune", "Prune roots, fresh soil")
        advice = (
            "Give it a pot of half as much again before growth begins."
            if small
            else "Take it out, cut back the outer roots, and fill up with fresh soil."
        )
        why = [f"It has stood in {tree.pot_litres:g} litres since {tree.potted_on}."]
        caution = "lifting" if small else "root_prune"
        found.append(
            YearsJob(
                f"{task}:{tree.id}:{on.year}", task, title, "watch", due, why, advice, [tree.tag], [tree.id], caution
            )
        )
    return found


def _weak(trees: list[TreeYear], on: date) -> list[YearsJob]:
    """Trees whose shoots grew far less last year than is usual in their species."""
    if on.month not in PRUNING_MONTHS:
        return []
    grown = defaultdict(list)
    for tree in trees:
        if tree.shoot_cm is not None:
            grown[tree.species].append(tree.shoot_cm)
    due, found = date(on.year, *PRUNING_DUE).isoformat(), []
    for tree in trees:
        usual = median(grown[tree.species]) if len(grown[tree.species]) >= PEERS_MIN else None
        if tree.shoot_cm is None or usual is None or tree.shoot_cm > WEAK_SHARE * usual:
            continue
        why = [f"Its shoots grew {tree.shoot_cm:.0f} cm in {on.year - 1}; {usual:.0f} cm are usual here."]
        found.append(
            YearsJob(
                key=f"rejuvenate:{tree.id}:{on.year}",
                task="rejuvenate",
                title="Prune hard to the base",
                level="watch",
                due_on=due,
                why=why,
                advice="While it sleeps, cut it back to a few buds above the soil, if its base is sound.",
                tags=[tree.tag],
                trees=[tree.id],
                caution="rejuvenate",
            )
        )
    return found


def _faded(on: date) -> list[YearsJob]:
    """Tags that were printed long ago."""
    before = date(on.year - TAG_YEARS_MAX, on.month, min(on.day, 28))
    return [
        YearsJob(
            key=f"reprint_tag:{tree}:{printed.year}",
            task="reprint_tag",
            title="Print its tag again",
            level="watch",
            due_on=None,
            why=[f"Its tag was printed on {printed.isoformat()}."],
            advice="Look whether it can still be read; if not, print it again with the same code.",
            tags=[tag],
            trees=[tree],
        )
        for tree, tag, printed in tags_printed(before)
    ]
