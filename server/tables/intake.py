"""Steps as changes of the device “import”, handed to sync in chunks; what sync refuses comes back as a problem."""

from __future__ import annotations

from typing import Any

from server import ids
from server.records.database import execute
from server.records.devices import local_source
from server.sync.fields import KINDS
from server.sync.push import Outcome, Sender, push
from server.tables.cards import Cards
from server.tables.columns import Table
from server.tables.matching import CHANGED, NEW, Step
from server.tables.problems import Problems
from server.wording.said import say

SOURCE = "import"
CHUNK_CHANGES = 2000


class ImportDevice:
    """The device “import”, which numbers its changes as a phone does; only inside `write()`."""

    def __init__(self) -> None:
        device = local_source(SOURCE)
        self.id = device.id
        self._sender = Sender(device.id, device.role)
        self.last = int(execute("SELECT last_n FROM device WHERE id = ?", (device.id,)).fetchone()[0])
        self.first = self.last + 1
        self._edited_at = ids.now().isoformat(timespec="milliseconds")

    def change(self, kind: str, record: str, values: dict[str, Any]) -> dict[str, Any]:
        """The next change, as it goes over the wire; `first` to `last` are the numbers of all that were made so."""
        self.last += 1
        return {
            "id": ids.new_id(),
            "n": self.last,
            "kind": kind,
            "record": record,
            "edited_at": self._edited_at,
            "set": values,
        }

    def push(self, changes: list[dict[str, Any]]) -> list[Outcome]:
        """Hand some of them to sync, at most CHUNK_CHANGES."""
        return push(self._sender, changes)


class Intake:
    """Takes steps in; only inside `write()`, which the caller rolls back when there are problems."""

    def __init__(self, cards: Cards, problems: Problems) -> None:
        self.brought_back: list[str] = []
        self._cards, self._problems = cards, problems
        self._device = ImportDevice()
        self._waiting: list[tuple[dict[str, Any], Table | None, Step | None]] = []

    def take_bare(self, kind: str, made: list[tuple[str, str]]) -> None:
        """Make cards that have nothing but a name: (id, name)."""
        for identity, name in made:
            self._add(kind, identity, {kind: name}, None, None)

    def take(self, table: Table, steps: list[Step]) -> None:
        """Take in what is new or changed; a withdrawn card that it names is brought back first."""
        for step in steps:
            if step.outcome not in (NEW, CHANGED):
                continue
            if not table.is_card and self._of_withdrawn_tree(step):
                message = say("This tree was withdrawn; put the tag on a tree in trees.csv, or take the row out.")
                self._problems.add(step.row.file, step.row.line, "tag", message)
                continue
            if step.record is None:
                step.name_new_record()
            for name, kind in KINDS[table.kind].refers.items():
                if kind in self._cards.names and name in step.set:
                    self._bring_back(kind, step.set[name])
            self._add(table.kind, str(step.record), step.set, table, step)

    def finish(self) -> None:
        """Hand over what still waits."""
        self._flush()

    @property
    def span(self) -> str | None:
        """The first and last number of the changes that were taken in, like `17-42`; None where there were none."""
        first, last = self._device.first, self._device.last
        return f"{first}-{last}" if last >= first else None

    def _of_withdrawn_tree(self, step: Step) -> bool:
        tree = step.row.values.get("tree")
        return tree is not None and self._cards.is_withdrawn("tree", tree)

    def _bring_back(self, kind: str, identity: str) -> None:
        names = self._cards.names[kind]
        if names.is_withdrawn(identity):
            name = names.name_of[identity]
            names.exact[name] = identity
            self.brought_back.append(name)
            self._add(kind, identity, {"voided": False}, None, None)

    def _add(self, kind: str, record: str, values: dict[str, Any], table: Table | None, step: Step | None) -> None:
        self._waiting.append((self._device.change(kind, record, values), table, step))
        if len(self._waiting) >= CHUNK_CHANGES:
            self._flush()

    def _flush(self) -> None:
        outcomes = self._device.push([change for change, _, _ in self._waiting])
        for (_, table, step), outcome in zip(self._waiting, outcomes, strict=True):
            if outcome.problem is None:
                continue
            file, line = (step.row.file, step.row.line) if step else ("", 0)
            for error in outcome.problem["errors"]:
                column = table.column(error["field"]) if table else ""
                self._problems.add(file, line, column, error["message"])
        self._waiting.clear()
