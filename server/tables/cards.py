"""The cards that rows refer to by name or by tag: those of the collection, and those that the import brings."""

from __future__ import annotations

import difflib
import unicodedata
from dataclasses import dataclass, field
from typing import Any

from server.records.database import execute
from server.tables.columns import TABLES, Table

NAMED = ("variety", "place", "batch")
"""Kinds that other records refer to by name."""


@dataclass(slots=True)
class Stored:
    """A record of the collection as an import sees it: the fields that its file has columns for."""

    id: str
    voided: bool
    fields: dict[str, Any]


def _loosely(name: str) -> str:
    """A name without what a grower overlooks: upper case, doubled spaces, two ways of writing an accent."""
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


@dataclass(slots=True)
class Names:
    """Varieties or places by name: as written first, then without regard to case; withdrawn ones last."""

    exact: dict[str, str] = field(default_factory=dict)
    loose: dict[str, str] = field(default_factory=dict)
    withdrawn: dict[str, str] = field(default_factory=dict)
    name_of: dict[str, str] = field(default_factory=dict)
    ids_of: dict[str, list[str]] = field(default_factory=dict)

    def add(self, identity: str, name: str, voided: bool = False) -> None:
        """Make a card findable; of several with one name the first added is found."""
        self.name_of[identity] = name
        self.ids_of.setdefault(name, []).append(identity)
        if voided:
            self.withdrawn.setdefault(name, identity)
            self.withdrawn.setdefault(_loosely(name), identity)
        else:
            self.exact.setdefault(name, identity)
            self.loose.setdefault(_loosely(name), identity)

    def find(self, name: str) -> str | None:
        """The id of the card that this name means."""
        loosely = _loosely(name)
        return (
            self.exact.get(name) or self.loose.get(loosely) or self.withdrawn.get(name) or self.withdrawn.get(loosely)
        )

    def is_withdrawn(self, identity: str) -> bool:
        """Whether the only card of this name was withdrawn."""
        return self.name_of[identity] not in self.exact

    def same(self, one: str, other: str) -> bool:
        """Whether two ids mean the same name: two phones may each have made a card for it."""
        return one == other or self.name_of.get(one) == self.name_of.get(other)

    def nearest(self, name: str) -> list[str]:
        """Up to three names that this one may have been meant to be."""
        written = {_loosely(known): known for known in self.exact}
        return [written[near] for near in difflib.get_close_matches(_loosely(name), written, 3)]


@dataclass(slots=True)
class Cards:
    """All cards: stored ones by kind, names of varieties, places and batches, trees by every tag they have or had."""

    stored: dict[str, dict[str, Stored]]
    names: dict[str, Names]
    tags: dict[str, str]

    def find(self, kind: str, name: str) -> str | None:
        """The id that a name (of a tree: its canonical code) stands for."""
        return self.tags.get(name) if kind == "tree" else self.names[kind].find(name)

    def add(self, kind: str, identity: str, name: str) -> None:
        """Make a card of this import findable."""
        if kind == "tree":
            self.tags[name] = identity
        else:
            self.names[kind].add(identity, name)

    def is_withdrawn(self, kind: str, identity: str) -> bool:
        """Whether an id that was found belongs to a withdrawn card."""
        if kind == "tree":
            return identity in self.stored["tree"] and self.stored["tree"][identity].voided
        return self.names[kind].is_withdrawn(identity)

    def same(self, kind: str, one: str, other: str) -> bool:
        """Whether two ids of a kind mean the same card."""
        return one == other or (kind in self.names and self.names[kind].same(one, other))

    def alike(self, kind: str, identity: str) -> list[str]:
        """The ids under which facts of this card may stand: its own, and those of its namesakes."""
        if kind == "tree":
            return [identity]
        return self.names[kind].ids_of[self.names[kind].name_of[identity]]

    def candidates(self, kind: str, identity: str) -> list[Stored]:
        """The stored cards that a row of this name is about, those in use first."""
        found = [self.stored[kind][each] for each in self.alike(kind, identity) if each in self.stored[kind]]
        return sorted(found, key=lambda stored: stored.voided)


def load_cards() -> Cards:
    """Read the cards of the collection."""
    stored = {table.kind: _load(table) for table in TABLES.values() if table.is_card or table.is_plan}
    names = {kind: Names() for kind in NAMED}
    for kind, known in names.items():
        for card in stored[kind].values():
            known.add(card.id, card.fields[kind], card.voided)
    rows = execute(
        "SELECT g.code, g.tree FROM tag g JOIN tree t ON t.id = g.tree ORDER BY t.voided DESC, g.code"
    ).fetchall()
    return Cards(stored, names, dict(rows))


def _load(table: Table) -> dict[str, Stored]:
    names = [table.field(column) for column in table.all_columns]
    rows = execute(f"SELECT id, voided, {', '.join(names)} FROM {table.kind} ORDER BY voided, id").fetchall()  # noqa: S608 our own names
    return {row[0]: Stored(row[0], bool(row[1]), dict(zip(names, row[2:], strict=True))) for row in rows}
