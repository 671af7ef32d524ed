"""Day-by-day plans for bringing trees out through places that exist, and whether a move is too big a step."""

from __future__ import annotations

import uuid
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

from server import ids
from server.analysis.cold import Standing
from server.analysis.hardening import Plan, PlanDay, Traveller, hardening_plan, stood_shaded, tenderest
from server.analysis.light import COVERS, INDOOR_COVERS, LightStep
from server.errors import NotFound, Refused
from server.records import queries
from server.records.queries import PlaceRow
from server.reports.daylight import stand, step_between
from server.reports.forecast import forecast
from server.reports.judge import light_percent
from server.reports.load import DAY_S, Collection, load
from server.reports.scorching import carryings
from server.reports.shapes import Report
from server.reports.standing import standings

OUTDOORS = COVERS.keys() - INDOOR_COVERS - {"ground"}
"""Covers of places in the wind where pots stand."""
CAUTION = "lifting"
"""Key of the note that goes with carrying pots."""


@dataclass(frozen=True)
class HardeningItem:
    """The way out of `place` to `target` for `trees`, by the tenderest of them.

    `days`: what to do each day, with its light in mol m⁻² d⁻¹; none where nothing is to be hardened. `arrives_on`: the
    first day in the target for good, None where the plan's longest came first.
    """

    place: str
    target: str
    trees: list[dict[str, str]]
    shaded: bool
    moved_days_ago: int | None
    harm_c: float
    arrives_on: str | None
    days: list[dict[str, Any]]
    why: list[str]
    caution: str = CAUTION


@dataclass(frozen=True)
class MoveStep:
    """What a move would mean: `step` in light (None where it is not known), the `reasons`, and the verdict in words."""

    on: str
    tree: str
    tag: str
    from_place: str | None
    to_place: str
    step: dict[str, Any] | None
    reasons: list[str] = field(default_factory=list)
    words: str = ""


def hardening(
    on: date | None = None, place: str | None = None, tree: str | None = None, to: str | None = None
) -> Report:
    """Plans from the end of `on` (None: today) for a tree (tag or id), for the trees of a place (name or id), or all.

    They lead to the place `to`, or the brightest outdoors. Trees in the ground have none, nor those where no light is
    known. Raises NotFound or Refused for what is not there, is not one, or has no light.
    """
    collection = load(on)
    target = _target(collection, to)
    stands = {
        place.id: each
        for place in collection.places.values()
        if (each := stand(collection, place, collection.on)) is not None
    }
    groups = _groups(collection, place, tree)
    standing = standings(collection) if groups else {}
    weather = forecast(collection).days.get(target.id, {}) if groups else {}
    items = []
    for start, rows in groups.items():
        if start == target.id or start not in stands:
            continue
        traveller = _tenderest(collection, collection.places[start], rows, standing)
        others = [each for other, each in stands.items() if other not in (start, target.id)]
        between = [each for each in others if each.cover in OUTDOORS]
        if _is_small(collection, collection.places[start], target, traveller):
            plan = Plan((), collection.on, (f"{target.place} is no big step from {stands[start].name}.",))
        else:
            plan = hardening_plan(stands[start], stands[target.id], between, traveller, collection.on, weather)
        items.append(_item(collection, stands[start].name, target.place, rows, traveller, plan))
    asked = place is not None or tree is not None
    return Report(collection.on, [item for item in items if asked or item.days])


def too_big_step(tree: str, to: str, on: date | None = None) -> MoveStep:
    """Judge the move of a tree (tag or id) to a place (name or id) on a day (None: today) by its step in light.

    Raises NotFound or Refused for a tree or place that is not there, or not one.
    """
    collection = load(on)
    row = _tree_row(collection, tree)
    card, after = collection.trees[row], collection.places[queries.place_called(to)]
    before = collection.place_now(card)
    ago = _moved_days_ago(collection, row)
    step = step_between(collection, before, after, collection.on, ago) if before != after else None
    return MoveStep(
        on=collection.on.isoformat(),
        tree=card.id,
        tag=card.tag,
        from_place=before.place if before else None,
        to_place=after.place,
        step=None if step is None else _step_json(step),
        reasons=[] if step is None else list(step.why),
        words=_verdict(before, after, step),
    )


def _step_json(step: LightStep) -> dict[str, Any]:
    ratio = round(step.ratio, 2) if step.before_mol > 0.0 else None
    figures = {"before_mol": step.before_mol, "after_mol": step.after_mol, "change_mol": step.change_mol}
    return {"level": step.level, "ratio": ratio, **{name: round(value, 1) for name, value in figures.items()}}


def _verdict(before: PlaceRow | None, after: PlaceRow, step: LightStep | None) -> str:
    if before == after:
        return f"It stands in {after.place} already."
    if before is None:
        return "Where it stands now is not known: note its place first."
    if step is None:
        unknown = after if light_percent(after) is None else before
        return f"The light in {unknown.place} is not known: give it a cover, or its light in percent."
    if step.level == "act":
        return f"Too big a step from {before.place} to {after.place}: harden it off first."
    if step.level == "watch":
        return f"A big step from {before.place} to {after.place}: choose a dull day, and shade it at midday for a week."
    return f"{after.place} is no big step from {before.place}."


def _target(collection: Collection, to: str | None) -> PlaceRow:
    """The place that plans lead to."""
    if to is not None:
        target = collection.places[queries.place_called(to)]
        if light_percent(target) is None:
            raise Refused(f"The light in {target.place} is not known: give it a cover, or its light in percent.")
        return target
    lit = [(light_percent(place) or 0.0, place) for place in collection.places.values() if place.cover in OUTDOORS]
    if not lit:
        raise NotFound("No place outdoors is known: record one with the cover open, shade or porch, or name a place.")
    return max(lit, key=lambda each: each[0])[1]


def _groups(collection: Collection, place: str | None, tree: str | None) -> dict[str, list[int]]:
    """Rows of the trees to bring out, by the place where they stand."""
    only = None if tree is None else _tree_row(collection, tree)
    start = None if place is None else queries.place_called(place)
    groups: dict[str, list[int]] = {}
    for row, card in enumerate(collection.trees):
        now = collection.place_now(card)
        if now is None or now.cover == "ground" or (start not in (None, now.id)) or (only not in (None, row)):
            continue
        groups.setdefault(now.id, []).append(row)
    return groups


def _tree_row(collection: Collection, tree: str) -> int:
    try:
        identity = str(uuid.UUID(tree))
    except ValueError:
        identity = queries.tree_by_tag(ids.read_tag_code(tree))
    if identity not in collection.rows:
        raise NotFound("No standing tree has this id; it may have been retired or withdrawn.")
    return collection.rows[identity]


def _tenderest(collection: Collection, start: PlaceRow, rows: list[int], standing: dict[str, Standing]) -> Traveller:
    """What the slowest and tenderest of the trees in a place bears."""
    shaded = stood_shaded(light_percent(start))
    travellers = []
    for row in rows:
        found = standing[collection.trees[row].id]
        harm = found.species.cold_at(found.stage, found.in_leaf).harm.value
        travellers.append(Traveller(shaded, _moved_days_ago(collection, row), harm))
    return tenderest(travellers)


def _is_small(collection: Collection, start: PlaceRow, target: PlaceRow, traveller: Traveller) -> bool:
    """Whether trees that know wind already can go at once."""
    step = step_between(collection, start, target, collection.on, traveller.moved_days_ago)
    return start.cover not in INDOOR_COVERS and step is not None and step.level is None


def _item(
    collection: Collection, start: str, target: str, rows: list[int], traveller: Traveller, plan: Plan
) -> HardeningItem:
    ago = traveller.moved_days_ago
    return HardeningItem(
        place=start,
        target=target,
        trees=[{"tag": collection.trees[row].tag, "tree": collection.trees[row].id} for row in rows],
        shaded=traveller.shaded,
        moved_days_ago=None if ago is None else round(ago),
        harm_c=round(traveller.harm_c, 1),
        arrives_on=plan.arrives_on.isoformat() if plan.arrives_on else None,
        days=[_day_json(day) for day in plan.days],
        why=list(plan.why),
    )


def _moved_days_ago(collection: Collection, row: int) -> float | None:
    """Whole days since a tree was last carried to another place; None where it never was."""
    stays = carryings(collection, collection.trees[row])
    return (collection.on - collection.day_of(stays[-1].at_s / DAY_S)).days if stays else None


def _day_json(day: PlanDay) -> dict[str, Any]:
    return asdict(day) | {"on": day.on.isoformat(), "light_mol": round(day.light_mol, 1)}
