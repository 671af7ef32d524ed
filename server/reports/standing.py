"""How each tree stands: its stage, whether it is in leaf, its pot, its place and whether it was sheltered."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from server.analysis.cold import Standing
from server.analysis.light import INDOOR_COVERS
from server.analysis.species import Species
from server.records.queries import PlaceRow, TreeRow
from server.reports.kinds import species_of
from server.reports.load import DAY_S, Collection
from server.reports.waking import is_south, month_as_north

Floats = NDArray[np.float64]

# A grower's settings; common practice, no published source.
NOTED_HOLDS_DAYS = 60.0
"""So long a stage or a count of leaves speaks for a tree."""
SHELTER_HOLDS_DAYS = 14.0
"""So long a shelter that was noted is taken to be in its place, unless it was taken off or the tree was moved."""
LEAF_MONTHS = frozenset(range(4, 12))
"""Months in which a tree that nobody looked at is taken to be in leaf, in the north; half a year on in the south."""
ROOFED = INDOOR_COVERS | {"porch"}


def standings(collection: Collection) -> dict[str, Standing]:
    """Each tree as the cold finds it, by its id; those whose place is not known are left out."""
    counted, now = collection.visits.counted, collection.until_s / DAY_S
    stage = _lately(counted["bbch"], collection.visits.day, now)
    leaves = np.where(np.isfinite(counted["leaves"]), counted["leaves"], counted["leaves_per_shoot"])
    leaves = _lately(leaves, collection.visits.day, now)
    kinds, season = species_of(collection.trees), _leaf_season(collection)
    found: dict[str, Standing] = {}
    for row, tree in enumerate(collection.trees):
        place = collection.place_now(tree)
        in_leaf = bool(leaves[row] > 0) if np.isfinite(leaves[row]) else season
        if place is not None:
            found[tree.id] = _standing(collection, tree, place, kinds[row], stage[row], in_leaf)
    return found


def pot_now(collection: Collection, tree: TreeRow) -> float | None:
    """Litres of the pot that a tree stands in: as last potted up or down, else that it started with."""
    for work in reversed(collection.works.get(tree.id, [])):
        if work.task in ("pot_up", "pot_down") and work.amount:
            return work.amount
    return tree.pot_litres


def is_sheltered(collection: Collection, tree: TreeRow) -> bool:
    """Whether it was noted lately that the tree was sheltered, and neither uncovered nor moved since."""
    works = [work for work in collection.works.get(tree.id, []) if work.task in ("shelter", "uncover")]
    if not works or works[-1].task != "shelter":
        return False
    at_s = works[-1].at_s
    moved = any(move.at_s > at_s for move in collection.moves.get(tree.id, []))
    return not moved and collection.until_s - at_s <= SHELTER_HOLDS_DAYS * DAY_S


def last_known(values: Floats, day: Floats) -> tuple[Floats, Floats]:
    """Each tree's last number that is not NaN, and its day; NaN and −inf where there is none."""
    at = np.where(np.isfinite(values), np.arange(values.shape[1]), -1).max(axis=1, initial=-1)
    rows = np.arange(len(values))
    return np.where(at >= 0, values[rows, at], np.nan), np.where(at >= 0, day[rows, at], -np.inf)


def _lately(values: Floats, day: Floats, now: float) -> Floats:
    last, on = last_known(values, day)
    return np.where(now - on <= NOTED_HOLDS_DAYS, last, np.nan)


def _leaf_season(collection: Collection) -> bool:
    return month_as_north(collection.on.month, is_south(collection.places.values())) in LEAF_MONTHS


def _standing(
    collection: Collection, tree: TreeRow, place: PlaceRow, kind: Species, stage: float, in_leaf: bool
) -> Standing:
    return Standing(
        tag=tree.tag,
        species=kind,
        stage=int(stage) if np.isfinite(stage) else None,
        in_leaf=in_leaf,
        pot_litres=pot_now(collection, tree),
        in_ground=place.cover == "ground",
        place=place.place,
        covered=place.cover in ROOFED,
    )
