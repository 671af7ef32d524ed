"""Jobs that the time of year brings, read from the records: pot up, prune hard to the base, print a faded tag again."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

from server.records.plans import TreeYear, tags_printed, trees_of_season
from server.records.queries import places
from server.reports.waking import is_south, month_as_north
from server.wording.said import Day, cm, litres, say

# A grower's settings; common practice, no published source.
# Months and days are those of the north; half a year on in the south.
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
GROWN_AFTER_DAYS = 212
"""Shoots measured before August, by the days of the year, may have grown on; nobody knows their year's growth."""
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


@dataclass(frozen=True)
class _Calendar:
    """The growing year as one hemisphere has it: from January in the north, from July in the south."""

    on: date
    south: bool

    @property
    def month(self) -> int:
        return month_as_north(self.on.month, self.south)

    @property
    def start(self) -> date:
        """The first day of the present growing year."""
        if not self.south:
            return date(self.on.year, 1, 1)
        return date(self.on.year - (self.on.month < 7), 7, 1)

    def due(self, month: int, day: int) -> str:
        """A day of this growing year, named as in the north."""
        that = date(self.start.year, month, day)
        return (that.replace(month=month + 6) if self.south else that).isoformat()


def years_jobs(on: date) -> list[YearsJob]:
    """What the records ask for at this time of year."""
    year = _Calendar(on, is_south(places()))
    if year.month not in {*POTTING_MONTHS, *PRUNING_MONTHS}:
        return _faded(on)
    before = year.start.replace(year=year.start.year - 1)
    trees = trees_of_season(before, year.start, on)
    found = [*_weak(trees, before, year), *_root_bound(trees, year)]
    pruned = {job.trees[0] for job in found if job.task == "rejuvenate"}
    potted = [job for job in found if job.task != "pot_up" or job.trees[0] not in pruned]
    return [*potted, *_faded(on)]


def _root_bound(trees: list[TreeYear], year: _Calendar) -> list[YearsJob]:
    if year.month not in POTTING_MONTHS:
        return []
    last = (year.on - timedelta(days=int(365.25 * YEARS_IN_POT))).isoformat()
    due = year.due(*POTTING_DUE)
    found = []
    for tree in trees:
        if tree.pot_litres is None or tree.potted_on is None or tree.potted_on > last:
            continue
        small = tree.pot_litres < POT_LITRES_MAX
        task, title = ("pot_up", say("Pot up")) if small else ("root_prune", say("Prune roots, fresh soil"))
        advice = (
            say("Give it a pot of half as much again before growth begins.")
            if small
            else say("Take it out, cut back the outer roots, and fill up with fresh soil.")
        )
        why: list[str] = [
            say("It has stood in {pot:g} since {on}.", pot=litres(tree.pot_litres), on=Day.of(tree.potted_on[:10]))
        ]
        caution = "lifting" if small else "root_prune"
        found.append(
            YearsJob(
                f"{task}:{tree.id}:{year.start.year}",
                task,
                title,
                "watch",
                due,
                why,
                advice,
                [tree.tag],
                [tree.id],
                caution,
            )
        )
    return found


def _weak(trees: list[TreeYear], before: date, year: _Calendar) -> list[YearsJob]:
    """Trees whose shoots grew far less in the season that began with `before` than is usual in their species.

    Only trees that were there when that season began and were measured late in it are compared.
    """
    if year.month not in PRUNING_MONTHS:
        return []
    late = (before + timedelta(days=GROWN_AFTER_DAYS)).isoformat()
    known = [
        tree
        for tree in trees
        if tree.measured_on is not None
        and tree.measured_on >= late
        and (tree.started_on is None or tree.started_on < before.isoformat())
    ]
    grown = defaultdict(list)
    for tree in known:
        if tree.shoot_cm is not None:
            grown[tree.species].append(tree.shoot_cm)
    due, found = year.due(*PRUNING_DUE), []
    for tree in known:
        usual = median(grown[tree.species]) if len(grown[tree.species]) >= PEERS_MIN else None
        if tree.shoot_cm is None or usual is None or tree.shoot_cm > WEAK_SHARE * usual:
            continue
        grew = say("Its shoots grew {shoot:.0f} in {season}; {usual:.0f} are usual here.")
        why: list[str] = [grew.filled(shoot=cm(tree.shoot_cm), season=_season(before), usual=cm(usual))]
        found.append(
            YearsJob(
                key=f"rejuvenate:{tree.id}:{year.start.year}",
                task="rejuvenate",
                title=say("Prune hard to the base"),
                level="watch",
                due_on=due,
                why=why,
                advice=say("While it sleeps, cut it back to a few buds above the soil, if its base is sound."),
                tags=[tree.tag],
                trees=[tree.id],
                caution="rejuvenate",
            )
        )
    return found


def _season(start: date) -> str:
    return f"{start.year}" if start.month == 1 else f"{start.year}/{start.year + 1}"


def _faded(on: date) -> list[YearsJob]:
    """Tags that were printed long ago."""
    before = date(on.year - TAG_YEARS_MAX, on.month, min(on.day, 28))
    return [
        YearsJob(
            key=f"reprint_tag:{tree}:{printed.year}",
            task="reprint_tag",
            title=say("Print its tag again"),
            level="watch",
            due_on=None,
            why=[say("Its tag was printed on {on}.", on=Day(printed, with_year=True))],
            advice=say("Look whether it can still be read; if not, print it again with the same code."),
            tags=[tag],
            trees=[tree],
        )
        for tree, tag, printed in tags_printed(before)
    ]
