"""Leaf-drop findings: the test's figures, the likely causes, and the sentences that say them."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from server.analysis.causes import Case, MoveEvent, Verdict, began_on, companion_words, likely_causes
from server.records import queries
from server.records.queries import TreeRow
from server.reports.company import Company
from server.reports.judge import Judged, light_percent
from server.reports.load import DAY_S, Collection
from server.reports.shapes import LeafDropItem
from server.wording.said import Day, Said, in_words, say, say_count

Ints = NDArray[np.int64]

ACT_PROBABILITY = 0.9
"""From here on a finding says act, below it watch; a setting, no published source."""
EVENT_DAYS = 40

Reading = tuple[date, float | None, float | None]
"""Day, lowest and highest, °C."""
Remark = tuple[int, str | None, str | None]
"""Seconds since 1970, causes, soil."""


@dataclass(frozen=True)
class Loss:
    """What a tree lost since its drop began; rates as a share of its leaves a day."""

    leaves_before: float
    lost: float
    usual: float
    days: int
    rate: float
    usual_rate: float
    counted: bool
    factor: float


def leaf_drops(judged: Judged, company: Company | None = None) -> list[LeafDropItem]:
    """A finding for every tree whose alarm holds at its last visit.

    `company`: all trees' moves and alarms, where those that were judged are a part.
    """
    # A drop lies between two visits; what was seen once or never has none. One tree whose figures came out as no
    # numbers must not take the findings of all others away.
    told = np.isfinite(judged.drops.probability) & np.isfinite(judged.drops.own_usual)
    rows = np.flatnonzero(judged.drops.alarm & told & (judged.collection.visits.count > 1))
    if not len(rows):
        return []
    known = _Known(company or Company.of(judged), _readings_by_place(judged, rows), _remarks(judged, rows))
    return [_item(judged, int(row), known) for row in rows]


@dataclass(frozen=True)
class _Known:
    """What findings need beside the trees: their company, readings by place, remarks (at_s, causes, soil) by tree."""

    company: Company
    readings: dict[str, list[Reading]]
    remarks: dict[str, list[Remark]]


def _item(judged: Judged, row: int, known: _Known) -> LeafDropItem:
    tree, drops = judged.collection.trees[row], judged.drops
    loss = _loss(judged, row)
    case = _case(judged, row, loss, known)
    verdict = likely_causes(case)
    probability = float(drops.probability[row])
    return LeafDropItem(
        tag=tree.tag,
        tree=tree.id,
        kind="leaf_drop",
        level="act" if probability >= ACT_PROBABILITY else "watch",
        since=began_on(case).isoformat(),
        why=_why(case, loss, verdict, probability),
        advice=verdict.advice,
        loss_percent_per_day=round(100 * loss.rate, 2),
        usual_percent_per_day=round(100 * loss.usual_rate, 2),
        probability=round(probability, 3),
        leaves_lost=round(loss.lost),
        likely_causes=[asdict(cause) for cause in verdict.causes],
    )


def _loss(judged: Judged, row: int) -> Loss:
    """Sum up what fell since the drop began: counted, or by the totals where nobody counted."""
    drops, last = judged.drops, judged.last_visit(row)
    since = slice(int(drops.onset[row]), last + 1)
    told = drops.exposure.counted[row, since]
    day = judged.visits.day[row]
    days = max(float(day[last] - day[since.start - 1]), 0.5)
    factor = float(np.mean(drops.common.factor[row, since]))
    usual_rate = float(drops.own_usual[row]) * factor
    before = float(drops.exposure.leaves[row, since.start])
    if told.any():
        lost = float(judged.visits.fallen[row, since][told].sum())
        leaf_days = float(drops.exposure.leaf_days[row, since][told].sum())
        return Loss(before, lost, usual_rate * leaf_days, round(days), lost / leaf_days, usual_rate, True, factor)
    seen = judged.totals[row, since]
    now = float(np.nanmin(seen)) if np.isfinite(seen).any() else before
    lost = max(before - now, 0.0)
    rate = -float(np.log(max(now, 0.5) / max(before, 0.5))) / days
    return Loss(before, lost, usual_rate * before * days, round(days), max(rate, 0.0), usual_rate, False, factor)


def _case(judged: Judged, row: int, loss: Loss, known: _Known) -> Case:
    """Gather all that is on record about one tree around the beginning of its drop."""
    collection, onset = judged.collection, int(judged.drops.onset[row])
    tree, day = collection.trees[row], judged.visits.day[row]
    whole, first = float(day[onset - 1]), float(day[onset])
    seen_from = whole - EVENT_DAYS
    noted = [remark for remark in known.remarks.get(tree.id, []) if remark[0] / DAY_S >= seen_from]
    places = {collection.place_at(tree, at * DAY_S) for at in (whole - 2, whole, first)}
    near = [r for place in places if place for r in known.readings.get(place, [])]
    here = collection.places.get(collection.place_at(tree, first * DAY_S) or "")
    return Case(
        seen_whole_on=collection.day_of(whole),
        first_seen_on=collection.day_of(first),
        moves=_moves(collection, tree, seen_from, first, known.company),
        works=[
            (collection.day_of(work.at_s / DAY_S), work.task)
            for work in collection.works.get(tree.id, [])
            if work.at_s / DAY_S >= seen_from
        ],
        readings=near,
        recorded=[
            (collection.day_of(at / DAY_S), c) for at, causes, _ in noted for c in (causes or "").split(";") if c
        ],
        soils=[(collection.day_of(at / DAY_S), soil) for at, _, soil in noted if soil],
        common_factor=loss.factor,
        place_name=here.place if here else None,
    )


def _moves(collection: Collection, tree: TreeRow, from_day: float, to_day: float, company: Company) -> list[MoveEvent]:
    """The tree's moves before its drop was seen, each with its step in light and its companions."""
    found = []
    before = tree.place
    for move in collection.moves.get(tree.id, []):
        start, target = collection.places.get(before or ""), collection.places.get(move.to_place)
        before = move.to_place
        if not from_day <= move.at_s / DAY_S <= to_day or target is None or start == target:
            continue
        seen, dropping = company.after(move)
        found.append(
            MoveEvent(
                on=collection.day_of(move.at_s / DAY_S),
                from_name=start.place if start else None,
                to_name=target.place,
                from_light_percent=light_percent(start),
                to_light_percent=light_percent(target),
                companions=seen,
                companions_dropping=dropping,
            )
        )
    return found


def _remarks(judged: Judged, rows: Ints) -> dict[str, list[Remark]]:
    """What visits to these trees noted of causes and soil."""
    found: dict[str, list[Remark]] = {}
    trees = [judged.collection.trees[row].id for row in rows]
    for tree, at_s, causes, soil in queries.remarks(judged.collection.until_s, trees):
        found.setdefault(tree, []).append((at_s, causes, soil))
    return found


def _readings_by_place(judged: Judged, rows: Ints) -> dict[str, list[Reading]]:
    """Readings from before the drops of these trees up to the report's day; those ahead of it explain nothing."""
    collection = judged.collection
    whole = judged.visits.day[rows, judged.drops.onset[rows] - 1]
    since = collection.day_of(float(whole.min()) - EVENT_DAYS)
    found: dict[str, list[Reading]] = {}
    for each in queries.readings(collection.on.isoformat(), since.isoformat()):
        found.setdefault(each.place, []).append((date.fromisoformat(each.date), each.t_min_c, each.t_max_c))
    return found


def _why(case: Case, loss: Loss, verdict: Verdict, probability: float) -> list[str]:
    """Say what was seen, since when, and how sure."""
    seen = (
        say("Lost {lost} of {leaves} leaves in {days}, usual here is {usual}.")
        if loss.counted
        else say(
            "Nobody counted the fallen, but its totals are down by {lost} of {leaves} leaves in {days}, usual here is"
            " {usual}."
        )
    )
    first = seen.filled(
        lost=round(loss.lost),
        leaves=round(loss.leaves_before),
        days=say_count("1 day", "{count} days", max(loss.days, 1)),
        usual=_about(loss.usual),
    )
    sure = say("Sure to about {percent} in 100.", percent=min(round(100 * probability), 99))
    return [first, _began_words(case, verdict), sure]


def _began_words(case: Case, verdict: Verdict) -> Said:
    """When it began, and what that has to do with a move."""
    began, move = began_on(case), verdict.move
    if move is None or verdict.causes[0].cause != "move":
        return say("Began about {on}.", on=Day(began))
    days = max((began - move.on).days, 0)
    values = {"on": Day(began), "place": move.to_name, "days": in_words(days)}
    words = (
        say("Began about {on}, the day of the move to {place}", **values)
        if days == 0
        else say_count(
            "Began about {on}, one day after the move to {place}",
            "Began about {on}, {days} days after the move to {place}",
            days,
            **values,
        )
    )
    if not move.companions:
        return say("{began}.", began=words)
    return say("{began}; {companions}.", began=words, companions=companion_words(move))


def _about(expected: float) -> Said:
    """A usual number of leaves as a grower would say it: "1 or 2", "between 5 and 9"."""
    if expected < 1:
        return say("none or 1")
    spread = np.sqrt(expected)
    if expected < 3:
        return say("{low} or {high}", low=int(expected), high=int(expected) + 1)
    return say("between {low} and {high}", low=round(expected - spread), high=round(expected + spread))
