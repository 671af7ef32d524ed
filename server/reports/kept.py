"""What the overview of a day rests on, kept up to date: after a sync only the trees it touched are computed again.

A full pass learns from all trees (variances, what is usual and common, paces) and computes each. After that the log
says which trees changed. These are computed again by what was learned, with their new counts in the place of the former
ones; so are those that were touched since the full pass and stand in the same places, as their peers are known better
now. What rests on the learned figures of all, the others keep. Anything wider (a place, a variety, a reading, a new
tree, a setting, another day) brings another full pass, and so does FULL_SHARE of the trees having been touched.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.records.database import read_counter
from server.records.touched import touched_since
from server.reports.alerts import tree_findings
from server.reports.by_tree import ByTree
from server.reports.company import Company
from server.reports.computed import Computed, compute, compute_again
from server.reports.forecast import Forecast, forecast
from server.reports.jobs import all_jobs
from server.reports.judge import Former
from server.reports.lessons import lessons_due, season_heat
from server.reports.load import Collection, load, load_part
from server.reports.pieces import Piece, finding, pieces_of, written
from server.reports.shapes import as_json
from server.reports.shedding import settled_counts, shedding_places
from server.reports.trends import middle_change
from server.reports.unvisited import last_seen, late_visits, unvisited
from server.wording.manner import PLAIN, Manner

Ints = NDArray[np.int64]

FULL_SHARE, FULL_TREES_MIN = 0.1, 30
"""So many trees, as a share and at least, may have been touched before all are learned from anew."""


@dataclass
class State:
    """What is known after the change number `counter`; `whole` and what was learned are of the last full pass.

    `collection` has the cards, moves and numbers of visits of now. `again`: trees touched since the full pass, by row,
    and the place where each stands.
    """

    counter: int
    whole: Computed
    collection: Collection
    company: Company
    ahead: Forecast
    peers: float
    pieces: list[Piece]
    shed: ByTree
    seen: ByTree
    last: Ints
    again: dict[int, str | None] = field(default_factory=dict)


def learn(on: date) -> State:
    """The full pass."""
    counter = read_counter()
    done = compute(load(on))
    collection, peers = done.collection, middle_change(done.judged)
    company, ahead = Company.of(done.judged), forecast(collection)
    return State(
        counter=counter,
        whole=done,
        collection=collection,
        company=company,
        ahead=ahead,
        peers=peers,
        pieces=pieces_of(done, peers, tree_findings(done, company, ahead)),
        shed=settled_counts(done.judged),
        seen=late_visits(collection),
        last=last_seen(collection),
    )


def follow(state: State) -> bool:
    """Bring the state up to the newest change, computing only what was touched; False where a full pass is due."""
    counter, touched = read_counter(), touched_since(state.counter)
    rows = {state.collection.rows[tree] for tree in touched.trees if tree in state.collection.rows}
    most = max(FULL_TREES_MIN, FULL_SHARE * len(state.collection.trees))
    if touched.wider or len(rows | state.again.keys()) > most:
        return False
    if rows and not _compute(state, rows):
        return False
    state.counter = counter
    return True


def _compute(state: State, touched: set[int]) -> bool:
    """Compute the touched trees again, and those touched before that stand where these do."""
    part = _load(state, touched)
    places = {_stands_in(part, row) for row in range(len(part.trees))}
    beside = {row for row, place in state.again.items() if place in places} - touched
    if beside:
        part = _load(state, touched | beside)
    if len(part.trees) < len(touched | beside):
        return False
    rows = np.array([state.collection.rows[tree.id] for tree in part.trees], dtype=np.int64)
    done = compute_again(part, rows, state.whole, _former(state, part))
    if done is None:
        return False
    _take_in(state, done, rows)
    return True


def _load(state: State, rows: set[int]) -> Collection:
    return load_part(state.collection, [state.collection.trees[row].id for row in sorted(rows)])


def _stands_in(collection: Collection, row: int) -> str | None:
    return collection.place_at(collection.trees[row], collection.until_s)


def _former(state: State, part: Collection) -> list[Former]:
    """The trees of a part as they were judged last, those of one pass together."""
    passes: dict[int, list[str]] = {}
    for tree in part.trees:
        passes.setdefault(id(state.company.latest[tree.id][0]), []).append(tree.id)
    found = []
    for trees in passes.values():
        judged = state.company.latest[trees[0]][0]
        own = np.array([state.company.latest[tree][1] for tree in trees], dtype=np.int64)
        found.append((judged, own, np.array([state.collection.rows[tree] for tree in trees], dtype=np.int64)))
    return found


def _take_in(state: State, done: Computed, rows: Ints) -> None:
    """Put what was computed of some trees in the place of what was known of them."""
    part = done.collection
    state.company.put(done.judged)
    found = tree_findings(done, state.company, state.ahead)
    for row, piece in zip(rows.tolist(), pieces_of(done, state.peers, found), strict=True):
        state.pieces[row] = piece
    state.shed = state.shed.exchanged(rows, settled_counts(done.judged, rows))
    state.seen = state.seen.exchanged(rows, late_visits(part, rows))
    state.last[rows] = last_seen(part)
    state.again |= {row: _stands_in(part, n) for n, row in enumerate(rows.tolist())}
    state.collection = _with_part(state.collection, part, rows)


def _with_part(whole: Collection, part: Collection, rows: Ints) -> Collection:
    """The collection with the cards, moves, works and numbers of visits of a part."""
    trees, count = list(whole.trees), whole.visits.count.copy()
    count[rows] = part.visits.count
    for row, tree in zip(rows.tolist(), part.trees, strict=True):
        trees[row] = tree
    facts: dict[str, Any] = {}
    for name in ("moves", "works", "harvests"):
        kept, now = dict(getattr(whole, name)), getattr(part, name)
        for tree in part.trees:
            kept[tree.id] = now.get(tree.id, [])
        facts[name] = kept
    return replace(whole, trees=trees, visits=replace(whole.visits, count=count), **facts)


def write_out(state: State, head: dict[str, Any], manner: Manner = PLAIN) -> str:
    """The overview's JSON: `head`, then findings, notices, trends, paces, crops, what to do, and lessons due."""
    found = [each for piece in state.pieces for each in piece.findings]
    on = state.collection.on
    found += [finding(item, on) for item in unvisited(state.collection, state.seen, state.last)]
    found.sort(key=lambda each: (each.order, each.written.text))
    known = {id(job): text for each in found for job, text in each.jobs}
    asked = all_jobs((job for each in found for job, _ in each.jobs), on, state.collection)
    lists = {
        "alerts": [each.written for each in found],
        "notices": [written(as_json(notice)) for notice in shedding_places(state.whole.judged, state.shed)],
        "trends": [piece.trend for piece in state.pieces],
        "pace": [piece.pace for piece in state.pieces],
        "crop": [piece.crop for piece in state.pieces if piece.crop is not None],
        "tasks": [known.get(id(job)) or written(as_json(job)) for job in asked],
        "lessons": [written(as_json(lesson)) for lesson in lessons_due(on, season_heat(on))],
    }
    is_plain = manner.is_plain
    told = "".join(
        f',"{name}":[{",".join([each.text if is_plain else each.told(manner) for each in parts])}]'
        for name, parts in lists.items()
    )
    return f"{written(head).text[:-1]}{told}}}"
