"""Day-by-day plans for bringing trees out through places that exist, or why there is none."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from server.analysis.cold import Standing
from server.analysis.hardening import (
    COLD_MARGIN_C,
    Plan,
    PlanDay,
    Stand,
    Traveller,
    hardening_plan,
    is_too_cold,
    stood_shaded,
    tenderest,
)
from server.analysis.light import COVERS, INDOOR_COVERS
from server.errors import NotFound, Refused
from server.records import queries
from server.records.queries import PlaceRow
from server.reports.daylight import light_unknown, stand, step_between
from server.reports.forecast import forecast
from server.reports.judge import light_percent
from server.reports.load import Collection, load
from server.reports.movestep import tree_row
from server.reports.scorching import moved_days_ago
from server.reports.shapes import Report
from server.reports.standing import standings
from server.wording.said import say

OUTDOORS = COVERS.keys() - INDOOR_COVERS - {"ground"}
"""Covers of places in the wind where pots stand."""
CAUTION = "lifting"
"""Key of the note that goes with carrying pots."""
NOT_HOME = say("Home does not know it: it has not been sent home yet, or was retired or withdrawn.")
TREES_MAX = 300
"""As many as a barrow holds."""
BUDS_OPEN_BBCH, LEAVES_FALLEN_BBCH = 7, 97
"""Between these stages (extended BBCH scale) a tree has leaves or is about to."""


@dataclass(frozen=True)
class HardeningItem:
    """The way out of `place` to `target` for `trees` that go the same way, by the tenderest of them.

    `outcome`: harden, or why there are no `days`: go (at once), there (already), ground, unknown. `before` and `after`:
    each place's light, mol m⁻² d⁻¹ and percent of the open sky. `night_min_c`: nights that are to be warmer than this.
    `arrives_on`: the first day in the target for good, None where the plan's longest came first.
    """

    place: str | None
    target: str
    trees: list[dict[str, str]]
    outcome: str
    why: list[str]
    days: list[dict[str, Any]]
    before: dict[str, float] | None = None
    after: dict[str, float] | None = None
    shaded: bool = False
    moved_days_ago: int | None = None
    harm_c: float | None = None
    night_min_c: float | None = None
    arrives_on: str | None = None
    caution: str = CAUTION


def hardening(
    on: date | None = None,
    place: str | None = None,
    tree: str | None = None,
    to: str | None = None,
    trees: Sequence[str] = (),
    collection: Collection | None = None,
) -> Report:
    """Plans from the end of `on` (None: today) for a tree (tag or id), a place's trees (name or id), `trees`, or all.

    They lead to the place `to`, or the brightest outdoors. A place's trees go together, by the tenderest of them; of
    `trees`, those with the same plan. What was asked for and has no plan is an item with the reason. Raises NotFound
    or Refused for what is not there or has no light as a target, and for more than TREES_MAX trees. `collection`: that
    of the day, where it was loaded already.
    """
    if len(trees) > TREES_MAX:
        told = say("{count} trees are too many for one plan; ask for {most} at most.")
        raise Refused.of("trees", told.filled(count=len(trees), most=TREES_MAX))
    collection = collection or load(on)
    target = _target(collection, to)
    named, missing = _rows(collection, trees)
    if tree is not None:
        named.append(tree_row(collection, tree))
    start = None if place is None else queries.place_called(place)
    asked = bool(trees) or tree is not None or place is not None
    planner = _Planner(collection, target)
    rows = named if trees or tree is not None else range(len(collection.trees))
    items = [planner.item(*group) for group in planner.groups(rows, start, together=not trees)]
    items += [
        HardeningItem(None, target.place, [{"tag": "", "tree": each}], "unknown", [NOT_HOME], []) for each in missing
    ]
    return Report(collection.on, [item for item in _merged(items) if asked or item.days])


class _Planner:
    """What all plans of one report share: the places as they stand, the trees' standing, and the weather ahead."""

    def __init__(self, collection: Collection, target: PlaceRow) -> None:
        self.collection, self.target = collection, target
        self.standing = standings(collection)
        ahead = forecast(collection).days
        self.weather = ahead.get(target.id, {})
        found = ((place.id, stand(collection, place, collection.on)) for place in collection.places.values())
        self.stands: Mapping[str, Stand] = {
            place: replace(each, forecast=ahead.get(place, {})) for place, each in found if each is not None
        }

    def groups(self, rows: Iterable[int], start: str | None, together: bool) -> list[tuple[PlaceRow | None, list[int]]]:
        """Rows of the trees to bring out, by the place where they stand, and unless `together` by what they bear."""
        groups: dict[Any, list[int]] = {}
        for row in rows:
            now = self.collection.place_now(self.collection.trees[row])
            if start is not None and (now is None or now.id != start):
                continue
            place = None if now is None else now.id
            bears = None if together or now is None else self._bears(now, row)
            groups.setdefault((place, bears), []).append(row)
        return [(self.collection.places.get(place or ""), rows) for (place, _), rows in groups.items()]

    def item(self, start: PlaceRow | None, rows: list[int]) -> HardeningItem:
        """The plan of trees that stand in one place, or why there is none."""
        outcome, reason = self._unplanned(start, rows)
        if outcome or start is None:
            return self._bare_item(start, rows, outcome, reason)
        traveller = self.traveller(start, rows)
        here, there = self.stands[start.id], self.stands[self.target.id]
        others = [each for other, each in self.stands.items() if other not in (start.id, self.target.id)]
        between = [each for each in others if each.cover in OUTDOORS]
        if self._is_small(start, traveller):
            plan = Plan(
                (), self.collection.on, (say("{to} is no big step from {place}.", to=there.name, place=here.name),)
            )
        else:
            plan = hardening_plan(here, there, between, traveller, self.collection.on, self.weather)
        return HardeningItem(
            place=start.place,
            target=self.target.place,
            trees=self._named(rows),
            outcome="harden" if plan.days else "go",
            why=list(plan.why),
            days=[_day_json(day) for day in plan.days],
            before=_light_json(here),
            after=_light_json(there),
            shaded=traveller.shaded,
            moved_days_ago=None if traveller.moved_days_ago is None else round(traveller.moved_days_ago),
            harm_c=round(traveller.harm_c, 1),
            night_min_c=round(traveller.harm_c + COLD_MARGIN_C, 1),
            arrives_on=plan.arrives_on.isoformat() if plan.arrives_on else None,
        )

    def traveller(self, start: PlaceRow, rows: list[int]) -> Traveller:
        """What the slowest and tenderest of the trees in a place bears."""
        shaded = stood_shaded(light_percent(start))
        ago = [moved_days_ago(self.collection, row) for row in rows]
        return tenderest([Traveller(shaded, days, self.harm_c(row)) for row, days in zip(rows, ago, strict=True)])

    def harm_c(self, row: int) -> float:
        """Air temperature that harms a tree as it stands, °C."""
        found = self._standing_of(row)
        return found.species.cold_at(found.stage, found.in_leaf).harm.value

    def _bears(self, place: PlaceRow, row: int) -> tuple[Any, ...]:
        """What a tree's plan depends on: leaves, pace, and the days ahead that are too cold for it."""
        traveller = self.traveller(place, [row])
        ahead = (each.forecast.items() for each in self.stands.values() if each.cover in OUTDOORS)
        cold = frozenset((at, on) for at, days in enumerate(ahead) for on, day in days if is_too_cold(traveller, day))
        return _is_bare(self._standing_of(row)), traveller.is_tender, cold

    def _unplanned(self, start: PlaceRow | None, rows: list[int]) -> tuple[str, str]:
        """Why trees need no plan or can have none, as outcome and sentence; empty where they can have one."""
        if start is None:
            return "unknown", say("Where it stands is not known: note its place first.")
        if start.cover == "ground":
            return "ground", say("{place} is open ground: what grows there is not carried.", place=start.place)
        if start.id == self.target.id:
            return "there", say("It stands in {place} already.", place=start.place)
        if start.id not in self.stands:
            return "unknown", light_unknown(start)
        if all(_is_bare(self._standing_of(row)) for row in rows):
            return "go", say("It has no leaves now that light could burn: choose a mild day, and carry it out.")
        return "", ""

    def _bare_item(self, start: PlaceRow | None, rows: list[int], outcome: str, reason: str) -> HardeningItem:
        place = None if start is None else start.place
        night = None if outcome != "go" else round(max(self.harm_c(row) for row in rows) + COLD_MARGIN_C, 1)
        return HardeningItem(place, self.target.place, self._named(rows), outcome, [reason], [], night_min_c=night)

    def _standing_of(self, row: int) -> Standing:
        return self.standing[self.collection.trees[row].id]

    def _named(self, rows: list[int]) -> list[dict[str, str]]:
        return [{"tag": self.collection.trees[row].tag, "tree": self.collection.trees[row].id} for row in rows]

    def _is_small(self, start: PlaceRow, traveller: Traveller) -> bool:
        """Whether trees that know wind already can go at once."""
        step = step_between(self.collection, start, self.target, self.collection.on, traveller.moved_days_ago)
        return start.cover not in INDOOR_COVERS and step is not None and step.level is None


def _rows(collection: Collection, trees: Sequence[str]) -> tuple[list[int], list[str]]:
    """Rows of trees (tags or ids), each once, and those not there: a phone may have more than has come home."""
    rows, missing = [], []
    for tree in dict.fromkeys(trees):
        try:
            rows.append(tree_row(collection, tree))
        except NotFound:
            missing.append(tree)
    return list(dict.fromkeys(rows)), missing


def _target(collection: Collection, to: str | None) -> PlaceRow:
    """The place that plans lead to."""
    if to is not None:
        target = collection.places[queries.place_called(to)]
        if light_percent(target) is None:
            raise Refused(light_unknown(target))
        return target
    lit = [(light_percent(place) or 0.0, place) for place in collection.places.values() if place.cover in OUTDOORS]
    if not lit:
        raise NotFound(
            say("No place outdoors is known: record one with the cover open, shade or porch, or name a place.")
        )
    return max(lit, key=lambda each: each[0])[1]


def _is_bare(standing: Standing) -> bool:
    """Whether a tree was seen without leaves lately, asleep or shed."""
    stage = standing.stage
    return not standing.in_leaf and stage is not None and not BUDS_OPEN_BBCH <= stage < LEAVES_FALLEN_BBCH


def _merged(items: list[HardeningItem]) -> list[HardeningItem]:
    """Put trees on one line that go from the same place by the same days for the same reasons."""
    lines: dict[str, HardeningItem] = {}
    for item in items:
        key = repr((item.place, item.outcome, item.why, item.days, item.night_min_c))
        known = lines.setdefault(key, item)
        if known is not item:
            known.trees.extend(item.trees)
    return list(lines.values())


def _light_json(stand: Stand) -> dict[str, float]:
    return {"mol": round(stand.light_mol, 1), "percent": round(stand.percent)}


def _day_json(day: PlanDay) -> dict[str, Any]:
    return asdict(day) | {"on": day.on.isoformat(), "light_mol": round(day.light_mol, 1)}
