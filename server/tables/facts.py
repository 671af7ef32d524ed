"""The stored facts that rows may be about, found by tree (or place) and instant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from server.records.database import execute, select_in
from server.records.writing import seconds
from server.sync.fields import KINDS
from server.tables.cards import Cards, Stored
from server.tables.columns import Table
from server.tables.intake import SOURCE
from server.tables.rows import Row

# Two parameters a pair; SQLite takes at least 32,766 in one statement.
PAIRS_MAX = 5000


def load_facts(table: Table, rows: Iterable[Row], cards: Cards) -> Iterator[Stored]:
    """The stored facts, withdrawn ones too, at the trees (or places) and instants of these rows.

    Nothing is asked for a tree that this import itself brings. What an import took back itself may come anew, so that
    it is none of them.
    """
    owner, at = table.key[:2]
    kind = KINDS[table.kind].refers[owner]
    pairs: dict[tuple[str, Any], None] = {}
    for row in rows:
        when = row.values[at] if at == "date" else seconds(row.values[at])
        for identity in cards.alike(kind, row.values[owner]):
            if identity in cards.stored[kind]:
                pairs[(identity, when)] = None
    wanted = list(pairs)
    for start in range(0, len(wanted), PAIRS_MAX):
        found = list(_load(table, owner, "date" if at == "date" else "at_s", wanted[start : start + PAIRS_MAX]))
        taken_back = _taken_back([each.id for each in found if each.voided])
        yield from (each for each in found if each.id not in taken_back)


def _taken_back(voided: list[str]) -> set[str]:
    """Those of some withdrawn facts whose newest change is an import's: imports withdraw only what they brought."""
    sql = (
        "SELECT c.record, c.effective_ms, c.device, c.n, d.name, d.token_hash"
        " FROM change_log c JOIN device d ON d.id = c.device WHERE c.record IN"
    )
    # By record in the order of merging: the newest change of each stays.
    rows = sorted(select_in(sql, voided), key=lambda row: row[:4])
    newest = {record: name == SOURCE and token is None for record, *_, name, token in rows}
    return {record for record, is_imports in newest.items() if is_imports}


def _load(table: Table, owner: str, instant: str, pairs: list[tuple[str, Any]]) -> Iterator[Stored]:
    names = [table.field(column) for column in table.all_columns]
    listed = ", ".join(f"f.{name}" for name in names)
    cursor = execute(
        f"WITH wanted (owner, instant) AS (VALUES {', '.join(['(?, ?)'] * len(pairs))})"  # noqa: S608 our own names
        f" SELECT f.id, f.voided, {listed} FROM wanted JOIN {table.kind} f"
        f" ON f.{owner} = wanted.owner AND f.{instant} = wanted.instant ORDER BY f.id",
        [value for pair in pairs for value in pair],
    )
    for identity, voided, *values in cursor.fetchall():
        yield Stored(identity, bool(voided), dict(zip(names, values, strict=True)))
