"""Whether one move of a tree is too big a step in light, in figures and words."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from server import ids
from server.analysis.light import LightStep
from server.errors import NotFound
from server.records import queries
from server.records.queries import PlaceRow
from server.reports.daylight import light_unknown, step_between
from server.reports.judge import light_percent
from server.reports.load import Collection, load
from server.reports.scorching import moved_days_ago
from server.wording.said import say


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


def too_big_step(tree: str, to: str, on: date | None = None) -> MoveStep:
    """Judge the move of a tree (tag or id) to a place (name or id) on a day (None: today) by its step in light.

    Raises NotFound or Refused for a tree or place that is not there, or not one.
    """
    collection = load(on)
    row = tree_row(collection, tree)
    card, after = collection.trees[row], collection.places[queries.place_called(to)]
    before = collection.place_now(card)
    ago = moved_days_ago(collection, row)
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


def tree_row(collection: Collection, tree: str) -> int:
    """The row of a tree by tag or id. Raises BadTagCode for what is neither, and NotFound."""
    try:
        identity = str(uuid.UUID(tree))
    except ValueError:
        identity = queries.tree_by_tag(ids.read_tag_code(tree))
    if identity not in collection.rows:
        raise NotFound(say("No standing tree has this id; it may have been retired or withdrawn."))
    return collection.rows[identity]


def _step_json(step: LightStep) -> dict[str, Any]:
    ratio = round(step.ratio, 2) if step.before_mol > 0.0 else None
    figures = {"before_mol": step.before_mol, "after_mol": step.after_mol, "change_mol": step.change_mol}
    return {"level": step.level, "ratio": ratio, **{name: round(value, 1) for name, value in figures.items()}}


def _verdict(before: PlaceRow | None, after: PlaceRow, step: LightStep | None) -> str:
    if before == after:
        return say("It stands in {place} already.", place=after.place)
    if before is None:
        return say("Where it stands now is not known: note its place first.")
    if step is None:
        unknown = after if light_percent(after) is None else before
        return light_unknown(unknown)
    if step.level == "act":
        told = say("Too big a step from {place} to {to}: harden it off first.")
    elif step.level == "watch":
        told = say("A big step from {place} to {to}: choose a dull day, and shade it at midday for a week.")
    else:
        told = say("{to} is no big step from {place}.")
    return told.filled(place=before.place, to=after.place)
