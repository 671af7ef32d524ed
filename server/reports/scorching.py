"""Findings for trees that got too much light in a move: the step, and what their leaves show since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from server.analysis.light import LightStep
from server.analysis.scorch import BLAMED_DAYS, too_much_light
from server.records import queries
from server.records.queries import TreeRow
from server.reports.daylight import daylight, step_between
from server.reports.load import DAY_S, Collection, end_of
from server.reports.shapes import AlertItem

SETTLED_DAYS = 7.0
"""A tree that stood shorter than this in a place has not grown used to its light; a grower's setting."""
DAMAGE_HOLDS_DAYS = 60.0
"""Damage noted longer before a move says nothing about the leaves that were moved; a grower's setting."""


@dataclass(frozen=True)
class LightItem(AlertItem):
    """A tree after too big a step in light, from and to which places, in mol m⁻² d⁻¹."""

    from_place: str = ""
    to_place: str = ""
    before_mol: float = 0.0
    after_mol: float = 0.0


@dataclass(frozen=True)
class Stay:
    """One carrying of a tree from a place to another (ids; None unknown), at a moment in seconds since 1970."""

    at_s: int
    before: str | None
    after: str


@dataclass(frozen=True)
class Exposed:
    """A tree that stands brighter than it is used to: the move that did it, from where, and the step that it means."""

    row: int
    at_s: int
    moved_on: date
    before: str
    after: str
    step: LightStep


def scorched(collection: Collection) -> list[LightItem]:
    """Findings for the trees that were moved in the last three weeks, where the step in light was too big."""
    first = end_of(collection.on - timedelta(days=BLAMED_DAYS + 1), collection.zone)
    lately = [row for row, tree in enumerate(collection.trees) if _moved_since(collection, tree, first)]
    exposed = [found for row in lately if (found := _exposed(collection, row)) and found.step.level]
    if not exposed:
        return []
    sunburnt: dict[str, int] = {}
    trees = [collection.trees[each.row].id for each in exposed]
    for tree, at_s, causes in queries.causes_noted(first, collection.until_s, trees):
        if "sun" in causes.split(";"):
            sunburnt[tree] = at_s
    return [item for each in exposed if (item := _item(collection, each, sunburnt))]


def carryings(collection: Collection, tree: TreeRow) -> list[Stay]:
    """A tree's moves that took it to another place, in order."""
    before, found = tree.place, []
    for move in collection.moves.get(tree.id, []):
        if move.to_place != before:
            found.append(Stay(move.at_s, before, move.to_place))
        before = move.to_place
    return found


def moved_days_ago(collection: Collection, row: int) -> float | None:
    """Whole days since a tree was last carried to another place; None where it never was."""
    stays = carryings(collection, collection.trees[row])
    return (collection.on - collection.day_of(stays[-1].at_s / DAY_S)).days if stays else None


def _moved_since(collection: Collection, tree: TreeRow, at_s: int) -> bool:
    return any(move.at_s >= at_s for move in collection.moves.get(tree.id, []))


def _exposed(collection: Collection, row: int) -> Exposed | None:
    """Hold the place where a tree stands against the last one that it had grown used to."""
    stays = carryings(collection, collection.trees[row])
    if not stays:
        return None
    first = len(stays) - 1
    while first and stays[first].at_s - stays[first - 1].at_s < SETTLED_DAYS * DAY_S:
        first -= 1
    before, after = (collection.places.get(place or "") for place in (stays[first].before, stays[-1].after))
    brightest = max(range(first, len(stays)), key=lambda number: _rise(collection, stays[number]))
    moved_on = collection.day_of(stays[brightest].at_s / DAY_S)
    step = step_between(collection, before, after, moved_on, _gap_days(stays, brightest))
    if step is None or before is None or after is None:
        return None
    return Exposed(row, stays[brightest].at_s, moved_on, before.place, after.place, step)


def _rise(collection: Collection, stay: Stay) -> float:
    """Light gained by one carrying, mol m⁻² d⁻¹; none where it is not known."""
    on = collection.day_of(stay.at_s / DAY_S)
    before, after = (daylight(collection, collection.places.get(p or ""), on) for p in (stay.before, stay.after))
    return 0.0 if before is None or after is None else after.mol - before.mol


def _gap_days(stays: Sequence[Stay], number: int) -> float | None:
    """Days since the carrying before; None for the first."""
    return (stays[number].at_s - stays[number - 1].at_s) / DAY_S if number else None


def _item(collection: Collection, found: Exposed, sunburnt: dict[str, int]) -> LightItem | None:
    tree = collection.trees[found.row]
    before, now = _damage(collection, found)
    said = too_much_light(
        found.step,
        found.moved_on,
        collection.on,
        damage_before=before,
        damage_now=now,
        sun_noted=sunburnt.get(tree.id, 0) > found.at_s,
    )
    if said is None:
        return None
    return LightItem(
        tag=tree.tag,
        tree=tree.id,
        kind="too_much_light",
        level=said.level,
        since=said.since.isoformat(),
        why=list(said.why),
        advice=said.advice,
        from_place=found.before,
        to_place=found.after,
        before_mol=round(found.step.before_mol, 1),
        after_mol=round(found.step.after_mol, 1),
    )


def _damage(collection: Collection, found: Exposed) -> tuple[float | None, float | None]:
    """Damage last noted before the move, not long ago, and last noted after it, percent; None where it was not."""
    percent, day = collection.visits.counted["damage_percent"][found.row], collection.visits.day[found.row]
    moved = found.at_s / DAY_S
    noted = np.isfinite(percent)
    before = percent[noted & (day <= moved) & (day > moved - DAMAGE_HOLDS_DAYS)]
    after = percent[noted & (day > moved)]
    return (float(before[-1]) if len(before) else None), (float(after[-1]) if len(after) else None)
