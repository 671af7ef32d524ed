"""A phone's store and engine in Python: the rules of `webclient/store` and `webclient/sync`, without a browser."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from random import Random
from typing import Any

from tests.sync.bad_days.model import REFERS, REQUIRED

SENT_AGAIN_MAX = 5


@dataclass
class Row:
    """What was pulled, this phone's own changes over it, and which full pull last confirmed it."""

    kind: str
    base: dict[str, Any] | None = None
    own: list[dict[str, Any]] = field(default_factory=list)
    generation: int = 0

    def fields(self) -> dict[str, Any]:
        """The view: base, overlaid in order; what is null is left out."""
        values = dict(self.base or {})
        for change in self.own:
            values.update(change["set"])
        return {
            name: value
            for name, value in values.items()
            if value is not None and not (name == "voided" and value is False)
        }


class PythonPhone:
    """What is kept survives a kill; a tab holds only the request whose answer it awaits."""

    def __init__(self, rng: Random) -> None:
        self._rng = rng
        self._last_n = self._generation = 0
        self._outbox: dict[int, dict[str, Any]] = {}
        self._sent: dict[int, dict[str, Any]] = {}
        self._parked: dict[str, tuple[dict[str, Any], list[str], int]] = {}
        self._again: dict[int, int] = {}
        self._rows: dict[str, Row] = {}
        self._epoch: str | None = None
        self._cursor: str | None = None
        self._sweep_due = False
        self._awaited: dict[int, dict[str, Any]] = {}

    def save(self, kind: str, record: str, values: dict[str, Any], edited_at: str) -> int:
        """Store an entry and its change at once; the change's number."""
        self._last_n += 1
        change = {"id": self._new_id(), "n": self._last_n, "kind": kind, "record": record}
        self._put_out({**change, "edited_at": edited_at, "set": values})
        return self._last_n

    def start(self, tab: int) -> dict[str, Any] | None:
        """Begin a run in a tab: the request that it makes; None where it is at one already."""
        return None if tab in self._awaited else self._ask(tab)

    def receive(self, tab: int, answer: dict[str, Any] | None) -> dict[str, Any] | None:
        """Take an answer in, None for a failure; the next request of the run, or None at its end."""
        request = self._awaited.pop(tab)
        if answer is None:
            return None
        changed = self._apply(answer, request)
        return self._ask(tab) if changed or answer["more"] or self._outbox else None

    def kill(self) -> None:
        """The system ends the app: what it awaited is forgotten."""
        self._awaited.clear()

    def view(self) -> dict[str, tuple[str, dict[str, Any]]]:
        """Every record's kind and fields as screens see them."""
        return {record: (row.kind, row.fields()) for record, row in self._rows.items()}

    def pocket(self) -> tuple[int, list[int]]:
        """How many changes wait, and the numbers of those that home refused."""
        return len(self._outbox), sorted(change["n"] for change, _, _ in self._parked.values())

    def _new_id(self) -> str:
        return str(uuid.UUID(int=self._rng.getrandbits(128), version=4))

    def _put_out(self, change: dict[str, Any]) -> None:
        self._outbox[change["n"]] = change
        row = self._rows.setdefault(change["record"], Row(change["kind"], generation=self._generation))
        row.own = sorted([*row.own, change], key=lambda own: own["n"])

    def _ask(self, tab: int) -> dict[str, Any]:
        changes = [self._outbox[n] for n in sorted(self._outbox)][: self._rng.randint(1, 6)]
        request = {"protocol": 1, "epoch": self._epoch, "cursor": self._cursor, "limit": 2000, "changes": changes}
        self._awaited[tab] = request
        return request

    def _apply(self, answer: dict[str, Any], request: dict[str, Any]) -> bool:
        changed = self._epoch is not None and self._epoch != answer["epoch"]
        fits = not changed and (self._epoch, self._cursor) == (request["epoch"], request["cursor"])
        if changed:
            self._begin_epoch()
        self._epoch = answer["epoch"]
        outcomes = {each["id"]: each for each in answer["results"]}
        for change in request["changes"]:
            if change["id"] in outcomes and self._outbox.get(change["n"], {}).get("id") == change["id"]:
                self._settle(change, outcomes[change["id"]], fits)
        if fits:
            for record in answer["records"]:
                row = self._rows.setdefault(record["id"], Row(record["kind"]))
                row.base, row.generation = record["fields"], self._generation
            self._cursor = answer["cursor"]
            if not answer["more"] and self._sweep_due:
                self._sweep()
        self._send_no_longer_lacking()
        return changed

    def _begin_epoch(self) -> None:
        self._generation += 1
        self._sweep_due, self._cursor = True, None
        again = [*self._sent.values(), *(change for change, _, _ in self._parked.values())]
        self._sent.clear()
        self._parked.clear()
        self._again.clear()
        for change in again:
            self._put_out(change)

    def _settle(self, change: dict[str, Any], outcome: dict[str, Any], fits: bool) -> None:
        del self._outbox[change["n"]]
        refused = outcome["outcome"] == "refused"
        row = self._rows.get(change["record"])
        if refused:
            faults = [each["field"] for each in outcome["problem"]["errors"]]
            self._parked[change["id"]] = (change, _lacked(change, faults), self._again.get(change["n"], 0))
        else:
            self._sent[change["n"]] = change
        if row is None:
            return
        row.own = [own for own in row.own if own["id"] != change["id"]]
        if not refused:
            if row.base is None or (fits and outcome["outcome"] == "stored"):
                row.base = {**(row.base or {}), **change["set"]}
            row.generation = self._generation
        self._drop_if_empty(change["record"])

    def _sweep(self) -> None:
        for record, row in list(self._rows.items()):
            if row.generation < self._generation:
                row.base, row.generation = None, self._generation
                self._drop_if_empty(record)
        self._sweep_due = False

    def _drop_if_empty(self, record: str) -> None:
        row = self._rows[record]
        if row.base is None and not row.own:
            del self._rows[record]

    def _send_no_longer_lacking(self) -> None:
        for identity, (change, lacks, again) in sorted(self._parked.items(), key=lambda item: item[1][0]["n"]):
            if lacks and again < SENT_AGAIN_MAX and all(self._is_home(record) for record in lacks):
                del self._parked[identity]
                self._again[change["n"]] = again + 1
                self._put_out(change)

    def _is_home(self, record: str) -> bool:
        row = self._rows.get(record)
        return row is not None and row.base is not None and row.generation >= self._generation


def _lacked(change: dict[str, Any], faults: list[str]) -> list[str]:
    lacked = []
    for name in faults:
        if name in REQUIRED[change["kind"]] and name not in change["set"]:
            lacked.append(change["record"])
        if name in REFERS.get(change["kind"], {}) and change["set"].get(name):
            lacked.append(change["set"][name])
    return lacked
