"""The rounds: who walked where and when, which trees were missed, and what was counted, with a counter's errors."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from demo_db.cards import RETIRED_ON, Cards
from demo_db.chores import Grove
from demo_db.growth import Grown, TreeDay
from demo_db.notebook import HELPER, OWNER, Notebook
from demo_db.orchard import MARKED, RETIRED, PlannedTree
from demo_db.scenario import BIG_TUNNEL, BOX_ROOM, CLOCHE_ROW, NORTH_PORCH, PLACES
from demo_db.season import Season, dice
from demo_db.stages import stage

WINTER_LOOKS = ((2, 22), (3, 8))
ROUNDS_FROM = (3, 18)
DAYS_BETWEEN = (3, 5)
STARTS_MINUTE, MINUTES_A_TREE = 7 * 60 + 10.0, (0.9, 2.2)
HELPER_WALKS_SHARE, HELPERS_PLACES = 0.4, (NORTH_PORCH, BIG_TUNNEL, CLOCHE_ROW, BOX_ROOM)
PLACE_SKIPPED_SHARE, TREE_MISSED_SHARE, ASLEEP_MISSED_SHARE = 0.06, 0.10, 0.6
# The last rounds leave no place out, so that whatever the seed, the story's late troubles were seen.
FULL_ROUNDS_AT_LAST = 2
ONLY_FALLEN_SHARE = 0.2
FOUND_SHARE = 0.85
FULL_COUNT_LEAVES_MAX, FULL_COUNT_CV = 45, 0.03
SHOOTS_SAMPLED, BETWEEN_SHOOTS_CV = 5, 0.35
SOUND_NOTES = ("Turned a quarter.", "Good colour.", "New leaves every visit.", "Ants, no harm.", "Tied to its cane.")


@dataclass(frozen=True, slots=True)
class Visit:
    """One observation as it was entered, for the photos to be bound to; `trouble_day` counts from the cause."""

    at: datetime
    by: str
    tree: PlannedTree
    observation: str
    state: TreeDay
    trouble_day: int | None


@dataclass(slots=True)
class _Walker:
    """Walks and writes; remembers per tree how many leaves had fallen when it last picked them up."""

    notebook: Notebook
    season: Season
    cards: Cards
    rng: np.random.Generator
    picked_up: dict[str, int] = field(default_factory=dict)
    visits: list[Visit] = field(default_factory=list)


def walk(notebook: Notebook, season: Season, grove: Grove, cards: Cards, seed: int) -> list[Visit]:
    """Enter every round of the season and give its visits."""
    walker = _Walker(notebook, season, cards, dice(seed, 10))
    everywhere = [place.name for place in PLACES]
    days = _round_days(season, walker.rng)
    for day in days:
        in_full = day in days[-FULL_ROUNDS_AT_LAST:]
        open_places = [place for place in everywhere if walker.rng.uniform() >= PLACE_SKIPPED_SHARE or in_full]
        with_helper = walker.rng.uniform() < HELPER_WALKS_SHARE
        helpers = [place for place in open_places if with_helper and place in HELPERS_PLACES]
        owners = [place for place in open_places if place not in helpers]
        for by, places in ((OWNER, owners), (HELPER, helpers)):
            if places:
                _one_round(walker, day, by, places, grove)
    return walker.visits


def _round_days(season: Season, rng: np.random.Generator) -> list[date]:
    """From yesterday back to the first round every three to five days, and two looks in winter."""
    days, day = [], season.days[-1]
    while day >= season.on(*ROUNDS_FROM):
        days.append(day)
        day -= timedelta(days=int(rng.integers(DAYS_BETWEEN[0], DAYS_BETWEEN[1] + 1)))
    return [*(season.on(*when) for when in WINTER_LOOKS), *reversed(days)]


def _one_round(walker: _Walker, day: date, by: str, places: list[str], grove: Grove) -> None:
    season, rng = walker.season, walker.rng
    before = day - timedelta(days=1)
    minute = STARTS_MINUTE + float(rng.uniform(0, 40))
    values = {
        "started_at": season.at(day, minute).isoformat(),
        "places": [walker.cards.places[place] for place in places],
    }
    round_id = walker.notebook.new(season.at(day, minute), by, "round", values)
    for place in places:
        for tree, grown in grove:
            state = grown.days[before]
            if state.place != place or _passed_by(walker, tree, state, day):
                continue
            minute += float(rng.uniform(*MINUTES_A_TREE))
            _visit(walker, season.at(day, minute), by, round_id, (tree, grown, before))
    done = season.at(day, minute + 2)
    walker.notebook.edit(done, by, "round", round_id, {"finished_at": done.isoformat()})


def _passed_by(walker: _Walker, tree: PlannedTree, state: TreeDay, day: date) -> bool:
    if tree.key == RETIRED and day >= walker.season.on(*RETIRED_ON):
        return True
    trouble = tree.trouble
    if trouble is not None and trouble.finding == "unvisited" and day >= walker.season.on(*trouble.starts):
        return True
    return bool(walker.rng.uniform() < (TREE_MISSED_SHARE if state.awake else ASLEEP_MISSED_SHARE))


def _visit(walker: _Walker, at: datetime, by: str, round_id: str, seen: tuple[PlannedTree, Grown, date]) -> None:
    tree, grown, day = seen
    state, rng = grown.days[day], walker.rng
    since = _trouble_day(walker.season, tree, day)
    values: dict[str, Any] = {"tree": tree.id, "round": round_id, "seen_at": at.isoformat()}
    if state.awake:
        values["leaves_fallen"] = _fallen(walker, tree, state)
        if since is not None or rng.uniform() >= ONLY_FALLEN_SHARE:
            values |= _counts(tree, state, rng) | _damage(tree, state, rng)
    if rng.uniform() < (0.35 if state.awake else 1.0):
        values["bbch"] = stage(tree.variety.species, state)
    values |= _soil_and_note(tree, since, rng)
    entered = at + timedelta(seconds=int(rng.integers(8, 35)))
    observation = walker.notebook.new(entered, by, "observation", values)
    walker.visits.append(Visit(entered, by, tree, observation, state, since))


def _trouble_day(season: Season, tree: PlannedTree, day: date) -> int | None:
    """Days since the cause of its trouble, once two have passed and something can be seen."""
    if tree.trouble is None:
        return None
    since = (day - season.on(*tree.trouble.starts)).days
    return since if since >= 2 else None


def _fallen(walker: _Walker, tree: PlannedTree, state: TreeDay) -> int | None:
    """Leaves picked up since the last visit; the first visit clears the winter's litter uncounted."""
    before = walker.picked_up.get(tree.id)
    walker.picked_up[tree.id] = state.lost
    if before is None:
        return None
    return int(walker.rng.binomial(state.lost - before, FOUND_SHARE))


def _counts(tree: PlannedTree, state: TreeDay, rng: np.random.Generator) -> dict[str, Any]:
    counts: dict[str, Any] = {}
    full = state.leaves <= FULL_COUNT_LEAVES_MAX or tree.variety.species == "citrus"
    if full:
        counts["leaves"] = max(0, round(state.leaves * (1 + FULL_COUNT_CV * rng.standard_normal())))
    else:
        counts["leaves_per_shoot"] = _sampled(state.leaves / state.shoots, min(SHOOTS_SAMPLED, state.shoots), rng)
    if not full or rng.uniform() < 0.4:
        counts["shoots"] = state.shoots
    if state.shoot_cm >= 1 and rng.uniform() < 0.6:
        counts["shoot_cm"] = round(state.shoot_cm * (1 + 0.04 * rng.standard_normal()), 1)
    for name, fruit in (("fruit_breba", state.breba), ("fruit_main", state.main)):
        if fruit or (tree.variety.species == "fig" and rng.uniform() < 0.2):
            counts[name] = max(0, round(fruit * (1 + 0.03 * rng.standard_normal())))
    if tree.key in MARKED and state.leaves >= state.shoots:
        counts.pop("leaves_per_shoot", None)
        counts["shoot_leaves"] = _on_marked(tree, state)
    return counts


def _on_marked(tree: PlannedTree, state: TreeDay) -> str:
    """Leaves on the shoots with a ribbon, each of its own lasting vigour."""
    vigour = dice(tree.number, 11).gamma(BETWEEN_SHOOTS_CV**-2, BETWEEN_SHOOTS_CV**2, MARKED[tree.key])
    return ";".join(str(round(state.leaves / state.shoots * each)) for each in vigour)


def _sampled(mean: float, shoots: int, rng: np.random.Generator) -> float:
    """Mean leaves of a few shoots of one tree: negative binomial, as shoots differ more than chance."""
    each = rng.poisson(mean * rng.gamma(BETWEEN_SHOOTS_CV**-2, BETWEEN_SHOOTS_CV**2, shoots))
    return round(float(each.mean()), 1)


def _damage(tree: PlannedTree, state: TreeDay, rng: np.random.Generator) -> dict[str, Any]:
    if state.damage_percent >= 2:
        seen = max(1, round(state.damage_percent * float(rng.normal(1, 0.12))))
        return {"damage_percent": seen, "causes": tree.trouble.recorded if tree.trouble else None}
    if rng.uniform() < 0.05:
        return {"damage_percent": int(rng.integers(1, 4)), "causes": str(rng.choice(["wind", "handling", "age"]))}
    return {}


def _soil_and_note(tree: PlannedTree, since: int | None, rng: np.random.Generator) -> dict[str, Any]:
    values: dict[str, Any] = {}
    if rng.uniform() < 0.5:
        values["soil"] = str(rng.choice(["moist", "dry", "wet"], p=[0.8, 0.1, 0.1]))
    if tree.trouble is not None and since is not None:
        if tree.trouble.soil and rng.uniform() < 0.85:
            values["soil"] = tree.trouble.soil
        if tree.trouble.notes and rng.uniform() < 0.5:
            values["note"] = str(rng.choice(tree.trouble.notes))
    elif rng.uniform() < 0.03:
        values["note"] = str(rng.choice(SOUND_NOTES))
    return values


def visits_of(visits: Iterable[Visit], trouble: str | None, days: int) -> list[Visit]:
    """Visits to the trees of one trouble, from so many days after its cause; None: to sound trees in leaf."""
    if trouble is None:
        return [visit for visit in visits if visit.tree.trouble is None and visit.state.leaves > 0]
    return [
        visit
        for visit in visits
        if visit.tree.trouble is not None and visit.tree.trouble.name == trouble and (visit.trouble_day or 0) >= days
    ]
