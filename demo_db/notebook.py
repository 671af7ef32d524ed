"""What the grower and the helper enter on their phones, in the order of entry."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from demo_db.season import Identities

OWNER, HELPER = "owner", "helper"


@dataclass(frozen=True, slots=True)
class Entry:
    """One saved form: when and on whose phone, and the fields of the record that it sets."""

    at: datetime
    by: str
    kind: str
    record: str
    set: dict[str, Any]


@dataclass(slots=True)
class Notebook:
    """All entries of the season; each fact gets its record id here."""

    identities: Identities
    entries: list[Entry] = field(default_factory=list)

    def new(self, at: datetime, by: str, kind: str, values: dict[str, Any]) -> str:
        """Enter a new record and give its id; what is None was left empty."""
        record = self.identities.record()
        self.edit(at, by, kind, record, {name: value for name, value in values.items() if value is not None})
        return record

    def edit(self, at: datetime, by: str, kind: str, record: str, values: dict[str, Any]) -> None:
        """Enter a change to a record, or a new record whose id is known."""
        self.entries.append(Entry(at, by, kind, record, values))

    def in_order(self) -> list[Entry]:
        """The entries by their time; of the same second, as they were entered."""
        return sorted(self.entries, key=lambda entry: entry.at)
