"""Taking back what a file brought in: each record becomes what it would be without it, where nobody built on it."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass
from enum import Enum
from typing import Any

from server.errors import NotFound, Refused
from server.records.database import execute, get_setting, select_in, set_setting, write
from server.sync.change import N_MAX
from server.sync.fields import KINDS
from server.sync.merge import LoggedChange, fold
from server.tables.intake import CHUNK_CHANGES, ImportDevice
from server.wording.said import say

IMPORT_CHANGES_MAX = 200_000
SETTING = "imports_taken_back"
"""Imports that were taken back: each the first and last number of its changes, and of those that took it back."""
SPANS_MAX = 500


@dataclass(frozen=True, slots=True)
class TakenBack:
    """How many records went back to what they were, and how many were left, as others build on them now."""

    records: int
    left: int


class _Part(Enum):
    """Whose a change is: the import's own; one that an earlier taking back undid, or its undoing; or anyone else's."""

    OWN = "own"
    GONE = "gone"
    OTHER = "other"


@dataclass(slots=True)
class _Record:
    """A record that the import touched, with all its changes in the order in which they came."""

    kind: str
    log: list[tuple[LoggedChange, _Part]]

    @property
    def was_made(self) -> bool:
        """Whether the import made it, or brought it back after it was as good as never made; and it is in use."""
        return self._is_made and not self.now.get("voided")

    @property
    def _is_made(self) -> bool:
        return next(part for _, part in self.log if part is not _Part.GONE) is _Part.OWN

    @property
    def now(self) -> dict[str, Any]:
        """What all changes make of it."""
        return self._folded(*_Part)

    @property
    def is_touched(self) -> bool:
        """Whether it is another now than imports alone left it."""
        return self.now != self._folded(_Part.OWN, _Part.GONE)

    def back(self) -> dict[str, Any]:
        """What to set so that it is as it would be without the import; what was edited since stays."""
        if self._is_made:
            return {"voided": True} if self.was_made and not self.is_touched else {}
        now, brought, without = self.now, self._folded(_Part.OWN), self._folded(_Part.OTHER)
        named = {name for change, part in self.log if part is _Part.OWN for name in change.set}
        back = {
            name: without.get(name)
            for name in sorted(named)
            if now.get(name) == brought.get(name) and without.get(name) != now.get(name)
        }
        return {name: bool(value) if name == "voided" else value for name, value in back.items()}

    def _folded(self, *parts: _Part) -> dict[str, Any]:
        return fold([change for change, part in self.log if part in parts])


def take_back(first: int, last: int) -> TakenBack:
    """Take back the changes `first` to `last` of the imports. Raises NotFound where there are none, and Refused."""
    if last - first >= IMPORT_CHANGES_MAX:
        raise Refused(say("So many changes can't be taken back at once; mend them by another import."))
    with write():
        device = ImportDevice()
        before: list[list[int]] = get_setting(SETTING, [])
        if any(span[:2] == [first, last] for span in before):
            return TakenBack(0, 0)
        records = _touched(device.id, (first, last), before) if first <= last <= N_MAX else {}
        if not records:
            raise NotFound(say("There is no such import here; it may have been before the home was restored."))
        kept = _built_on(records)
        back = {record: each.back() for record, each in records.items() if record not in kept}
        back = {record: values for record, values in back.items() if values}
        _send(device, records, back)
        set_setting(SETTING, [*before, [first, last, device.first, device.last]][-SPANS_MAX:])
        left = kept | {record for record, each in records.items() if each.was_made and each.is_touched}
        return TakenBack(len(back), len(left))


def _touched(source: str, span: tuple[int, int], before: list[list[int]]) -> dict[str, _Record]:
    """The records that these changes touched, with all changes of each; `before` names what was taken back earlier."""
    named = execute("SELECT DISTINCT record FROM change_log WHERE device = ? AND n >= ? AND n <= ?", (source, *span))
    rows = select_in(
        "SELECT seq, record, kind, effective_ms, device, n, set_json FROM change_log WHERE record IN",
        [row[0] for row in named.fetchall()],
    )
    logs: dict[tuple[str, str], list[LoggedChange]] = defaultdict(list)
    for _, record, kind, effective_ms, device, n, set_json in sorted(rows, key=lambda row: int(row[0])):
        logs[record, kind].append(LoggedChange(effective_ms, device, n, json.loads(set_json)))
    gone = [(start, end) for first, last, *by in before for start, end in ((first, last), by)]

    def part_of(change: LoggedChange) -> _Part:
        if change.device != source:
            return _Part.OTHER
        if span[0] <= change.n <= span[1]:
            return _Part.OWN
        return _Part.GONE if any(start <= change.n <= end for start, end in gone) else _Part.OTHER

    return {record: _Record(kind, [(each, part_of(each)) for each in log]) for (record, kind), log in logs.items()}


def _built_on(records: dict[str, _Record]) -> set[str]:
    """Records that the import made and that others refer to: a visit to a tree keeps the tree, and that its variety."""
    goes = {record for record, each in records.items() if each.was_made and not each.is_touched}
    referrers = _referrers(records, goes)
    kept: set[str] = set()
    while more := {record for record in goes - kept if referrers[record] - (goes - kept)}:
        kept |= more
    return kept


def _referrers(records: dict[str, _Record], wanted: set[str]) -> defaultdict[str, set[str]]:
    """By record, the ids of the records in use that refer to it."""
    by_kind: dict[str, list[str]] = defaultdict(list)
    for record in wanted:
        by_kind[records[record].kind].append(record)
    found: defaultdict[str, set[str]] = defaultdict(set)
    for kind, known in KINDS.items():
        for name, referred in known.refers.items():
            sql = f"SELECT {name}, id FROM {kind} WHERE NOT voided AND {name} IN"  # noqa: S608 names of our own
            for record, referrer in select_in(sql, by_kind.get(referred, [])):
                found[record].add(referrer)
    return found


def _send(device: ImportDevice, records: dict[str, _Record], back: dict[str, dict[str, Any]]) -> None:
    changes = [device.change(records[record].kind, record, values) for record, values in back.items()]
    for start in range(0, len(changes), CHUNK_CHANGES):
        for outcome in device.push(changes[start : start + CHUNK_CHANGES]):
            if outcome.problem is not None:
                raise Refused(outcome.problem["detail"])
