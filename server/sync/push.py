"""Taking changes in: one write transaction a request, an outcome a change, and one bad change spoils no other.

Everything the batch needs is read first, each change is then judged and merged in memory, and what came of it is
written in bulk: five thousand counts from a phone that was long without signal are in within a third of a second.
"""

from __future__ import annotations

import json
import uuid
from bisect import bisect_right, insort
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import orjson

from server import ids
from server.errors import BadTagCode, FieldProblem, TooLarge
from server.records import writing
from server.records.database import execute, read_counter, select_in, set_counter, write
from server.sync.change import Change, MalformedChange, milliseconds, parse_change
from server.sync.fields import HELPER_KINDS, KINDS, Kind
from server.sync.merge import LoggedChange, effective_ms, fold
from server.wording.said import say

CHANGES_MAX = 5000
AHEAD_MS_MAX = 3_600_000  # a phone's clock may run an hour fast before its times are refused
# How many days ahead a day may lie: a reading's as far as forecasts go.
DAYS_AHEAD_MAX = {"started_on": 1, "date": 16}
_DAYS = {name: [day for day in DAYS_AHEAD_MAX if day in kind.fields] for name, kind in KINDS.items()}
REFUSED = {"type": "about:blank#change-refused", "title": say("The change was refused"), "status": 422}
# Fields whose value may be refused for what another change set.
SHARED = {"tree": {"tag", "voided"}, "reading": {"t_min_c"}}
# What is told of a record that a change names and that is not here, and of one within a list, by its kind.
ABSENT = {
    "variety": say("This variety is not in the collection; choose one that is."),
    "place": say("This place is not in the collection; choose one that is."),
    "tree": say("This tree is not in the collection; choose one that is."),
    "batch": say("This batch is not in the collection; choose one that is."),
    "round": say("This round is not in the collection; choose one that is."),
    "observation": say("This observation is not in the collection; choose one that is."),
}
ABSENT_OF_LIST = {
    "place": say("A place of this list is not in the collection; choose again."),
    "tree": say("A tree of this list is not in the collection; choose again."),
}


@dataclass(frozen=True, slots=True)
class Sender:
    """The device that sends, as pairing knows it."""

    id: str
    role: str


@dataclass(slots=True)
class Outcome:
    """What became of one change: stored, duplicate or refused (with the problem to show)."""

    id: Any
    outcome: str
    problem: dict[str, Any] | None = None

    def as_json(self) -> dict[str, Any]:
        """The wire's shape."""
        shown = {"id": self.id, "outcome": self.outcome}
        return shown if self.problem is None else {**shown, "problem": self.problem}


class Refusal(Exception):
    """One change breaks a rule; the batch goes on."""

    def __init__(self, *problems: FieldProblem) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


@dataclass(slots=True)
class _State:
    """A record that the batch touches: its stored changes and what they fold to."""

    kind: str
    log: list[LoggedChange]
    fields: dict[str, Any]
    seq: int = 0


@dataclass(slots=True)
class _Batch:
    """What is known and what is to be written, within one request."""

    sender: Sender
    received_ms: int
    seq: int
    last_effective_ms: int
    last_n: int
    own: list[tuple[int, int]]  # n and effective time of the sender's changes, where one of the batch comes late
    states: dict[str, _State]
    stored_ids: set[str]
    parked: dict[str, dict[str, Any]]
    known: dict[str, set[str]]
    tag_owners: dict[str, str]
    voided_trees: set[str]
    log_rows: list[tuple[Any, ...]] = field(default_factory=list)
    park_rows: list[tuple[str, str, int, str, str]] = field(default_factory=list)
    no_longer_parked: list[str] = field(default_factory=list)
    tag_rows: list[tuple[str, str, int]] = field(default_factory=list)


def push(sender: Sender, raw_changes: list[Any]) -> list[Outcome]:
    """Take changes in and say what became of each; a change with a known id changes nothing.

    Raises TooLarge over the limit, Unavailable when nothing could be kept (then nothing was acknowledged either).
    """
    if len(raw_changes) > CHANGES_MAX:
        raise TooLarge(say("One request takes at most {most} changes; send the rest in another.", most=CHANGES_MAX))
    if not raw_changes:
        return []
    parsed = [(raw, _parse(raw)) for raw in raw_changes]
    with write():
        batch = _load(sender, [change for _, change in parsed if isinstance(change, Change)])
        outcomes = [_take(batch, raw, change) for raw, change in parsed]
        _store(batch)
    return outcomes


def _parse(raw: Any) -> Change | MalformedChange:
    try:
        return parse_change(raw)
    except MalformedChange as malformed:
        return malformed


def _load(sender: Sender, changes: list[Change]) -> _Batch:
    change_ids = [change.id for change in changes]
    record_ids = list({change.record for change in changes})
    known: dict[str, set[str]] = {}
    for kind, wanted in _referred(changes).items():
        known[kind] = {row[0] for row in select_in(f"SELECT id FROM {kind} WHERE id IN", list(wanted))}  # noqa: S608
    row = execute("SELECT last_effective_ms, last_n FROM device WHERE id = ?", (sender.id,)).fetchone()
    states = _load_states(record_ids)
    tags = _load_tags(changes, states)
    return _Batch(
        sender=sender,
        received_ms=ids.now_ms(),
        seq=read_counter(),
        last_effective_ms=row[0],
        last_n=row[1],
        own=_load_own(sender, changes, row[1]),
        states=states,
        stored_ids={row[0] for row in select_in("SELECT id FROM change_log WHERE id IN", change_ids)},
        parked=_load_parked(change_ids),
        known=known,
        tag_owners={code: tree for code, tree, _ in tags},
        voided_trees={tree for _, tree, voided in tags if voided},
    )


def _load_own(sender: Sender, changes: list[Change], last_n: int) -> list[tuple[int, int]]:
    numbers = [last_n, *(change.n for change in changes)]
    if all(former < n for former, n in pairwise(numbers)):
        return []
    rows = execute("SELECT n, effective_ms FROM change_log WHERE device = ?", (sender.id,)).fetchall()
    return sorted((n, effective) for n, effective in rows)


def _referred(changes: list[Change]) -> dict[str, set[str]]:
    wanted: dict[str, set[str]] = {}
    sets: dict[str, list[dict[str, Any]]] = {}
    for change in changes:
        sets.setdefault(change.kind, []).append(change.set)
    for kind, values in sets.items():
        for name, referred in KINDS[kind].refers.items():
            wanted.setdefault(referred, set()).update([each[name] for each in values if each.get(name) is not None])
        for name, referred in KINDS[kind].lists.items():
            wanted.setdefault(referred, set()).update(*(each.get(name) or () for each in values))
    return wanted


def _load_states(record_ids: list[str]) -> dict[str, _State]:
    states: dict[str, _State] = {}
    rows = select_in(
        "SELECT record, kind, effective_ms, device, n, set_json FROM change_log WHERE record IN", record_ids
    )
    for record, kind, effective, device, n, set_json in rows:
        state = states.setdefault(record, _State(kind, [], {}))
        state.log.append(LoggedChange(effective, device, n, json.loads(set_json)))
    for state in states.values():
        state.fields = fold(state.log)
    return states


def _load_parked(change_ids: list[str]) -> dict[str, dict[str, Any]]:
    if execute("SELECT 1 FROM parked_change LIMIT 1").fetchone() is None:
        return {}  # as in most collections
    rows = select_in("SELECT id, problem_json FROM parked_change WHERE id IN", change_ids)
    return {change_id: json.loads(problem) for change_id, problem in rows}


def _load_tags(changes: list[Change], states: dict[str, _State]) -> list[tuple[Any, ...]]:
    """Code, tree, and whether that is withdrawn, of each tag that a tree of the batch has or is to get."""
    codes = {state.fields["tag"] for state in states.values() if state.kind == "tree"}
    for change in changes:
        if change.kind == "tree" and change.set.get("tag"):
            try:
                codes.add(ids.read_tag_code(change.set["tag"]))
            except BadTagCode:
                continue  # told when the change itself is judged
    sql = "SELECT tag.code, tag.tree, tree.voided FROM tag JOIN tree ON tree.id = tag.tree WHERE tag.code IN"
    return list(select_in(sql, list(codes)))


def _take(batch: _Batch, raw: Any, change: Change | MalformedChange) -> Outcome:
    if isinstance(change, MalformedChange):
        identity = raw.get("id") if isinstance(raw, dict) else None
        return _refuse(batch, raw, identity, change.problems)
    if change.id in batch.stored_ids:
        return Outcome(raw["id"], "duplicate")
    parked = batch.parked.get(change.id)
    if parked is not None and not _hung_on_others(change, parked):
        return Outcome(raw["id"], "refused", parked)
    try:
        _judge_and_merge(batch, change)
    except Refusal as refusal:
        return _refuse(batch, raw, raw["id"], refusal.problems)
    batch.stored_ids.add(change.id)
    if parked is not None:
        batch.no_longer_parked.append(change.id)
    return Outcome(raw["id"], "stored")


def _hung_on_others(change: Change, problem: dict[str, Any]) -> bool:
    """Whether a change was refused for what other changes had done, or had yet to do.

    A record was absent that it names, or its own, which it only edits; its tag was on another tree; another had set
    the end of a reading that it now crosses. A phone may have brought what was wanting since, as after a restored
    backup; so such a change is judged anew when it comes again, while any other refusal stands.
    """
    kind = KINDS[change.kind]
    names = {each["field"] for each in problem["errors"]}
    named = {*kind.refers, *kind.lists} & change.set.keys()
    return bool(names & (named | SHARED.get(change.kind, set())) or names & set(kind.required) - change.set.keys())


def _refuse(batch: _Batch, raw: Any, identity: Any, problems: tuple[FieldProblem, ...]) -> Outcome:
    problem = {
        **REFUSED,
        "detail": problems[0].message,
        "errors": [{"field": each.field, "message": each.message} for each in problems],
    }
    text = json.dumps(raw)
    usable = isinstance(identity, str) and len(identity) == 36 and identity.isascii() and identity.isprintable()
    key = identity.lower() if usable else str(uuid.uuid5(uuid.NAMESPACE_OID, batch.sender.id + text))
    batch.parked[key] = problem
    batch.park_rows.append((key, batch.sender.id, batch.received_ms, text, json.dumps(problem)))
    return Outcome(identity, "refused", problem)


def _judge_and_merge(batch: _Batch, change: Change) -> None:
    kind = KINDS[change.kind]
    state = batch.states.get(change.record)
    if batch.sender.role != "owner" and change.kind not in HELPER_KINDS:
        told = say("A helper's phone can't edit cards; ask the owner to make this change.")
        raise Refusal(FieldProblem("kind", told))
    if state is not None and state.kind != change.kind:
        told = say("This id belongs to a {kind}; a new {other} needs its own.", kind=state.kind, other=change.kind)
        raise Refusal(FieldProblem("record", told))
    values = change.set
    _judge_required(values, kind.required, state is None)
    _judge_references(batch, change, kind)
    if change.kind == "tree" and values.get("parent") == change.record:
        # A longer ring is not refused: whether one stands would hang on which edits have come already. The check tells.
        told = say("A tree can't be its own parent; choose another, or leave it empty.")
        raise Refusal(FieldProblem("parent", told))
    _judge_times(batch, change, kind.at)
    if change.kind == "tree" and values.get("tag"):
        values["tag"] = _judge_tag(batch, change.record, values["tag"])
    effective = _effective_ms(batch, change)
    logged = LoggedChange(effective, batch.sender.id, change.n, values)
    log = [logged] if state is None else [*state.log, logged]
    fields = fold(log)
    if change.kind == "reading":
        _judge_reading(fields)
    elif change.kind == "tree" and not fields.get("voided"):
        # One that was withdrawn and comes back may find that its tag was put on another meanwhile.
        _judge_owner(batch, change.record, fields["tag"], "tag" if "tag" in values else "voided")

    batch.seq += 1
    batch.last_effective_ms = max(batch.last_effective_ms, effective)
    batch.last_n = max(batch.last_n, change.n)
    insort(batch.own, (change.n, effective))
    batch.states[change.record] = _State(change.kind, log, fields, batch.seq)
    batch.known.setdefault(change.kind, set()).add(change.record)
    if change.kind == "tree":
        _bind_tags(batch, change.record, values.get("tag"), fields)
    stamps = (change.n, change.kind, change.record, change.edited_at, effective, batch.received_ms)
    text, whole = orjson.dumps(values).decode(), values == fields
    batch.log_rows.append((batch.seq, change.id, batch.sender.id, *stamps, text, whole))


def _effective_ms(batch: _Batch, change: Change) -> int:
    """A change that comes late keeps its place among the sender's own: its newest edits are not to lose to it."""
    if change.n > batch.last_n:
        return effective_ms(change.edited_ms, batch.received_ms, batch.last_effective_ms)
    at = bisect_right(batch.own, change.n, key=lambda own: own[0])
    former_ms = batch.own[at - 1][1] if at else 0
    later_ms = batch.own[at][1] if at < len(batch.own) else None
    return effective_ms(change.edited_ms, batch.received_ms, former_ms, later_ms)


def _judge_required(values: dict[str, Any], required: tuple[str, ...], new: bool) -> None:
    missing = [name for name in required if values.get(name) is None and (new or name in values)]
    if missing:
        raise Refusal(*(FieldProblem(name, say("{field} is missing; fill it in.", field=name)) for name in missing))


def _judge_references(batch: _Batch, change: Change, kind: Kind) -> None:
    for name, referred in kind.refers.items():
        value = change.set.get(name)
        if value is not None and value not in batch.known.get(referred, ()):
            raise Refusal(FieldProblem(name, ABSENT[referred]))
    for name, referred in kind.lists.items():
        if any(each not in batch.known.get(referred, ()) for each in change.set.get(name) or ()):
            raise Refusal(FieldProblem(name, ABSENT_OF_LIST[referred]))


def _judge_times(batch: _Batch, change: Change, at: str | None) -> None:
    value = change.set.get(at) if at else None
    if value is not None and milliseconds(value) > batch.received_ms + AHEAD_MS_MAX:
        told = say("{field} lies in the future ({moment}); check the clock of the phone.", field=at, moment=value)
        raise Refusal(FieldProblem(at or "", told))
    for name in _DAYS[change.kind]:
        day = change.set.get(name)
        if day is not None and date.fromisoformat(day) > ids.now().date() + timedelta(days=DAYS_AHEAD_MAX[name]):
            told = say("{field} lies too far in the future ({day}); check the date.", field=name, day=day)
            raise Refusal(FieldProblem(name, told))


def _judge_tag(batch: _Batch, tree: str, text: str) -> str:
    try:
        code = ids.read_tag_code(text)
    except BadTagCode as bad:
        raise Refusal(FieldProblem("tag", bad.message)) from bad
    _judge_owner(batch, tree, code, "tag")
    return code


def _judge_owner(batch: _Batch, tree: str, code: str, at_fault: str) -> None:
    owner = batch.tag_owners.get(code, tree)
    if owner != tree and not _is_voided(batch, owner):
        told = say("Tag {code} is on another tree already; put a new tag on this one.", code=code)
        raise Refusal(FieldProblem(at_fault, told))


def _is_voided(batch: _Batch, tree: str) -> bool:
    """Whether a tree is withdrawn, by what the batch did to it so far."""
    state = batch.states.get(tree)
    return tree in batch.voided_trees if state is None else bool(state.fields.get("voided"))


def _bind_tags(batch: _Batch, tree: str, given: str | None, fields: dict[str, Any]) -> None:
    """The code that a change gives leads to its tree from now on, and so does that of a tree in use."""
    codes = [given] if given else []
    if not fields.get("voided"):
        codes.append(fields["tag"])
    for code in codes:
        if batch.tag_owners.get(code) != tree:
            batch.tag_owners[code] = tree
            batch.tag_rows.append((code, tree, batch.received_ms))


def _judge_reading(fields: dict[str, Any]) -> None:
    low, high = fields.get("t_min_c"), fields.get("t_max_c")
    if low is None and high is None and not fields.get("voided"):
        raise Refusal(FieldProblem("t_min_c", say("A reading needs the lowest or the highest temperature.")))
    if low is not None and high is not None and low > high:
        told = say("The lowest temperature ({low:g}) is above the highest ({high:g}).", low=low, high=high)
        raise Refusal(FieldProblem("t_min_c", told))


def _store(batch: _Batch) -> None:
    touched: dict[str, list[tuple[str, int, dict[str, Any]]]] = {}
    for record, state in batch.states.items():
        if state.seq:
            touched.setdefault(state.kind, []).append((record, state.seq, state.fields))
    for kind in KINDS:
        if kind in touched:
            writing.put_records(kind, touched[kind])
    writing.append_log(batch.log_rows)
    writing.park(batch.park_rows)
    writing.unpark(batch.no_longer_parked)
    writing.give_tags(batch.tag_rows)
    set_counter(batch.seq)
    execute(
        "UPDATE device SET last_n = ?, last_effective_ms = ?, seen_ms = ? WHERE id = ?",
        (batch.last_n, batch.last_effective_ms, batch.received_ms, batch.sender.id),
    )
