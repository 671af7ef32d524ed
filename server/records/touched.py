"""Which trees the changes since a moment bear on, read from the log."""

from __future__ import annotations

import json
from dataclasses import dataclass

from server.records.database import execute, select_in

CHANGES_MAX = 20_000
"""More changes than that are not followed one by one."""
FACTS = ("observation", "move", "work", "harvest")
SILENT = ("round", "photo", "batch", "job", "lesson")
"""Nothing is computed from these."""
OWN_CARD = frozenset(
    {"note", "position", "source", "pot_litres", "parent", "batch", "donor_number", "decision", "decided_on"}
)
"""What may change on a tree's card without bearing on other trees."""
TOLD_ONLY = {"variety": frozenset({"note", "origin_country"}), "place": frozenset({"note", "walk"})}
"""What may change on these cards without bearing on anything computed."""


@dataclass(frozen=True)
class Touched:
    """Ids of the trees that changes bear on; `wider`: some bear on others too, or nobody can say on whom."""

    trees: frozenset[str] = frozenset()
    wider: bool = False


def touched_since(counter: int) -> Touched:
    """What the changes after a number of the counter bear on."""
    rows = execute(
        "SELECT kind, record, set_json FROM change_log WHERE seq > ? ORDER BY seq LIMIT ?", (counter, CHANGES_MAX + 1)
    ).fetchall()
    kinds = {kind for kind, _, _ in rows}
    if len(rows) > CHANGES_MAX or kinds - {*FACTS, *SILENT, *TOLD_ONLY, "tree"}:
        return Touched(wider=True)
    trees: set[str] = set()
    facts: dict[str, set[str]] = {kind: set() for kind in FACTS}
    given: set[str] = set()
    for kind, record, set_json in rows:
        fields = json.loads(set_json)
        if kind == "tree":
            if not OWN_CARD.issuperset(fields):
                return Touched(wider=True)
            trees.add(record)
        elif kind in TOLD_ONLY:
            if not TOLD_ONLY[kind].issuperset(fields):
                return Touched(wider=True)
        elif kind in facts:
            facts[kind].add(record)
            if fields.get("tree"):
                given.add(record)
                trees.add(fields["tree"])
    if _known_before(given, counter):
        return Touched(wider=True)
    for kind, records in facts.items():
        trees |= {tree for _, tree in select_in(f"SELECT id, tree FROM {kind} WHERE id IN", list(records))}  # noqa: S608
    return Touched(frozenset(trees))


def _known_before(records: set[str], counter: int) -> bool:
    """Whether any of these facts is older: then it was taken from a tree that the log since then does not name."""
    found = select_in(f"SELECT record FROM change_log WHERE seq <= {counter:d} AND record IN", list(records))  # noqa: S608
    return any(True for _ in found)
