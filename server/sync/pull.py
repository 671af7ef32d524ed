"""Handing records out: everything that changed since a cursor, in commit order, page by page."""

from __future__ import annotations

import heapq
import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from server.errors import Refused
from server.records.database import execute, read_counter, select_in
from server.records.models import RECORD_MODELS
from server.records.writing import LISTS, TRUTHS, field_names

LIMIT_MAX = 5000


@dataclass(frozen=True, slots=True)
class Page:
    """Records in the order of the change that last touched them, and where to go on."""

    records: list[dict[str, Any]]
    cursor: str
    more: bool


def pull(cursor: str | None, limit: int) -> Page:
    """The records changed after `cursor` (None: all), at most `limit` of them.

    The counter is read first and bounds the page: a record that another writer touches meanwhile gets a higher
    number and comes with the next page. Raises Refused for a cursor that we never gave.
    """
    since = _read_cursor(cursor)
    newest = read_counter()
    if since > newest:
        since = 0  # a cursor of a database that was since restored: offer everything again
    if since == newest:
        return Page([], str(newest), False)
    limit = max(1, min(limit, LIMIT_MAX))
    found = heapq.merge(*(_of_kind(kind, since, newest, limit + 1) for kind in RECORD_MODELS), key=lambda pair: pair[0])
    pairs = [pair for pair, _ in zip(found, range(limit + 1), strict=False)]
    more = len(pairs) > limit
    pairs = pairs[:limit]
    records = [record for _, record in pairs]
    _add_former_tags(records)
    return Page(records, str(pairs[-1][0] if more else newest), more)


def _read_cursor(cursor: str | None) -> int:
    if cursor is None:
        return 0
    if not (cursor.isascii() and cursor.isdigit() and len(cursor) < 19):
        raise Refused.of("cursor", "Not a cursor of this server; send null to start afresh.")
    return int(cursor)


def _of_kind(kind: str, since: int, newest: int, limit: int) -> list[tuple[int, dict[str, Any]]]:
    names = field_names(kind)
    rows = execute(
        f"SELECT seq, id, voided, {', '.join(names)} FROM {kind}"  # noqa: S608 our own names
        " WHERE seq > ? AND seq <= ? ORDER BY seq LIMIT ?",
        (since, newest, limit),
    ).fetchall()
    pairs = []
    for row in rows:
        fields = {name: value for name, value in zip(names, row[3:], strict=True) if value is not None}
        if row[2]:
            fields["voided"] = True
        pairs.append((row[0], {"kind": kind, "id": row[1], "fields": fields}))
    for name in TRUTHS.get(kind, ()):
        _each(pairs, name, bool)
    for name in LISTS.get(kind, ()):
        _each(pairs, name, json.loads)
    return pairs


def _each(pairs: list[tuple[int, dict[str, Any]]], name: str, as_on_wire: Callable[[Any], Any]) -> None:
    for _, record in pairs:
        if name in record["fields"]:
            record["fields"][name] = as_on_wire(record["fields"][name])


def _add_former_tags(records: list[dict[str, Any]]) -> None:
    trees = {record["id"]: record["fields"] for record in records if record["kind"] == "tree"}
    for code, tree in select_in("SELECT code, tree FROM tag WHERE tree IN", list(trees)):
        if code != trees[tree]["tag"]:
            trees[tree].setdefault("former_tags", []).append(code)
