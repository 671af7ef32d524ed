"""The plain-dictionary model of home: what it must answer to each change, and what it must hold, by simple rules."""

from __future__ import annotations

import copy
from datetime import datetime
from typing import Any

REFERS = {"tree": {"variety": "variety", "place": "place"}, "observation": {"tree": "tree"}, "move": {"tree": "tree"}}
REFERS["move"]["to_place"] = "place"
REQUIRED = {"variety": ["variety"], "place": ["place"], "tree": ["tag"], "observation": ["tree", "seen_at"]}
REQUIRED["move"] = ["tree", "moved_at", "to_place"]
CARDS = ("variety", "place", "tree")


class Model:
    """Records as {id: (kind, {field: (stamp, value)})}; a field holds the value with the highest stamp."""

    def __init__(self) -> None:
        self.records: dict[str, tuple[str, dict[str, tuple[Any, Any]]]] = {}
        self.taken: dict[str, tuple[str, int]] = {}
        # By device and number: when the edit counts as made.
        self.made_ms: dict[tuple[str, int], int] = {}
        # By id: whether a record was lacking or a tag taken, so that it may be stored yet.
        self.parked: dict[str, bool] = {}
        self.tags: dict[str, str] = {}

    def known(self) -> set[tuple[str, str]]:
        """The id of every change that has an outcome, each with what it is."""
        return {(identity, "stored") for identity in self.taken} | {(identity, "refused") for identity in self.parked}

    def copied(self) -> Model:
        """The model as a backup keeps it."""
        return copy.deepcopy(self)

    def take(self, change: dict[str, Any], device: str, role: str, clock: Clock, bad: bool) -> str:
        """The outcome that a change must have; it is applied where that is "stored"."""
        if change["id"] in self.taken:
            return "duplicate"
        lacks = self._lacks(change)
        effective_ms = self._made_ms(change, device, clock)
        _, before = self.records.get(change["record"], (None, {}))
        fields = _merged(before, change["set"], (effective_ms, device, change["n"]))
        if not self.parked.get(change["id"], True) or lacks or bad or not self._fits(change, role, fields):
            self.parked.setdefault(change["id"], lacks or change["kind"] == "tree")
            return "refused"
        self.parked.pop(change["id"], None)
        self.taken[change["id"]] = (device, change["n"])
        self.made_ms[device, change["n"]] = effective_ms
        clock.note(device, change["n"], effective_ms)
        self.records[change["record"]] = (change["kind"], fields)
        for tag in self._tags(change, fields):
            self.tags[tag] = change["record"]
        return "stored"

    def _made_ms(self, change: dict[str, Any], device: str, clock: Clock) -> int:
        """When an edit counts as made: not later than now, and in the order of its device's own edits."""
        told_ms = min(int(datetime.fromisoformat(change["edited_at"]).timestamp() * 1000), clock.now_ms)
        last_n, last_ms = clock.last.get(device, (0, 0))
        if change["n"] > last_n:
            return max(told_ms, last_ms)
        own = [(n, made_ms) for (of, n), made_ms in self.made_ms.items() if of == device]
        former = max((made_ms for n, made_ms in own if n < change["n"]), default=0)
        later = min((made_ms for n, made_ms in own if n > change["n"]), default=told_ms)
        return min(max(told_ms, former), max(later, former))

    def _lacks(self, change: dict[str, Any]) -> bool:
        kind, values = change["kind"], change["set"]
        named = [values[name] for name in REFERS.get(kind, {}) if name in values]
        edits_only = any(name not in values for name in REQUIRED[kind])
        return (edits_only and change["record"] not in self.records) or any(one not in self.records for one in named)

    def _fits(self, change: dict[str, Any], role: str, fields: dict[str, Any]) -> bool:
        """A helper writes no cards, and a tag is on one tree that is not withdrawn."""
        owners = {self.tags.get(tag, change["record"]) for tag in self._tags(change, fields)} - {change["record"]}
        return all(self.is_voided(owner) for owner in owners) and (role == "owner" or change["kind"] not in CARDS)

    def _tags(self, change: dict[str, Any], fields: dict[str, Any]) -> set[str]:
        """The tags that lead to a tree after a change: the one that it gives, and that of a tree in use."""
        if change["kind"] != "tree":
            return set()
        in_use = set() if fields.get("voided", (None, False))[1] else {fields["tag"][1]}
        return in_use | ({change["set"]["tag"]} if "tag" in change["set"] else set())

    def is_voided(self, record: str) -> bool:
        """Whether a record is withdrawn."""
        return bool(self.records[record][1].get("voided", (None, False))[1])

    def view(self) -> dict[str, tuple[str, dict[str, Any]]]:
        """Every record's kind and fields as a pull must hand them out."""
        shown = {}
        for record, (kind, fields) in self.records.items():
            values = {name: value for name, (_, value) in fields.items() if value is not None}
            if values.get("voided") is False:
                del values["voided"]
            shown[record] = (kind, values)
        return shown


def _merged(fields: dict[str, Any], values: dict[str, Any], stamp: tuple[int, str, int]) -> dict[str, Any]:
    """The fields with a change's values where its stamp is the highest."""
    won = {name: (stamp, value) for name, value in values.items() if name not in fields or fields[name][0] < stamp}
    return {**fields, **won}


class Clock:
    """The server's clock; each device's highest number and newest edit, which no restore takes back."""

    def __init__(self, start: datetime) -> None:
        self.now = start
        self.last: dict[str, tuple[int, int]] = {}

    def copied(self) -> Clock:
        """The clock as it stands."""
        return copy.deepcopy(self)

    @property
    def now_ms(self) -> int:
        """Milliseconds since 1970."""
        return int(self.now.timestamp() * 1000)

    def note(self, device: str, n: int, made_ms: int) -> None:
        """An edit was taken in."""
        last_n, last_ms = self.last.get(device, (0, 0))
        self.last[device] = max(last_n, n), max(last_ms, made_ms)
