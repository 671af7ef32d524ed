"""Whole batches of records, log entries and tags into the tables; always inside `write()`."""

from __future__ import annotations

import json
from datetime import datetime
from functools import cache, lru_cache
from typing import Any

from server.records.database import execute_many
from server.records.models import RECORD_MODELS

INSTANTS_MAX = 16_384
# Fields that list records: kept as JSON text.
LISTS = {"round": ("places",), "place": ("walk",)}
# Fields that are true or false: SQLite hands them back as 0 and 1.
TRUTHS = {"place": ("heated",), "job": ("dropped",)}
# The field that dates each kind of fact; its instant fills the column `at_s`.
AT_FIELDS = {
    "observation": "seen_at",
    "move": "moved_at",
    "work": "done_at",
    "harvest": "picked_at",
    "photo": "taken_at",
}


@cache
def field_names(kind: str) -> tuple[str, ...]:
    """The columns of a kind's table that are fields on the wire."""
    own = {"id", "seq", "voided", "at_s"}
    return tuple(f.column_name for f in RECORD_MODELS[kind]._meta.sorted_fields if f.column_name not in own)


def put_records(kind: str, records: list[tuple[str, int, dict[str, Any]]]) -> None:
    """Write the states of records of one kind: (id, seq, fields); an existing row is replaced.

    Only columns that some row fills are named: half of them stay empty in a season's counts, and each costs time.
    """
    at, lists = AT_FIELDS.get(kind), LISTS.get(kind, ())
    filled: set[str] = set().union(*(fields for _, _, fields in records))
    names = [name for name in field_names(kind) if name in filled]
    head = ("id", "seq", "voided", "at_s") if at else ("id", "seq", "voided")
    rows = []
    for identity, seq, fields in records:
        values = [fields.get(name) for name in names]
        for name in lists:
            if fields.get(name) is not None:
                values[names.index(name)] = json.dumps(fields[name])
        voided = bool(fields.get("voided"))
        rows.append((identity, seq, voided, seconds(fields[at]), *values) if at else (identity, seq, voided, *values))
    columns = (*head, *names)
    updates = ", ".join(f"{column} = excluded.{column}" for column in (*head[1:], *field_names(kind)))
    execute_many(
        f"INSERT INTO {kind} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"  # noqa: S608 our own names
        f" ON CONFLICT (id) DO UPDATE SET {updates}",
        rows,
    )


@lru_cache(maxsize=INSTANTS_MAX)
def seconds(moment_text: str) -> int:
    """An RFC 3339 time in seconds since 1970-01-01 UTC."""
    return int(datetime.fromisoformat(moment_text).timestamp())


def append_log(rows: list[tuple[Any, ...]]) -> None:
    """Append (seq, id, device, n, kind, record, edited_at, effective_ms, received_ms, set_json, whole)."""
    execute_many(
        "INSERT INTO change_log (seq, id, device, n, kind, record, edited_at, effective_ms, received_ms, set_json,"
        " whole) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        rows,
    )


def park(rows: list[tuple[str, str, int, str, str]]) -> None:
    """Keep refused changes: (id, device, received_ms, change_json, problem_json)."""
    execute_many(
        "INSERT INTO parked_change (id, device, received_ms, change_json, problem_json) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT (id) DO NOTHING",
        rows,
    )


def unpark(change_ids: list[str]) -> None:
    """Forget refusals of changes that were stored after all."""
    execute_many("DELETE FROM parked_change WHERE id = ?", [(change_id,) for change_id in change_ids])


def give_tags(rows: list[tuple[str, str, int]]) -> None:
    """Bind codes to trees: (code, tree, given_ms); a printed blank becomes the tree's."""
    execute_many(
        "INSERT INTO tag (code, tree, given_ms) VALUES (?, ?, ?)"
        " ON CONFLICT (code) DO UPDATE SET tree = excluded.tree, given_ms = excluded.given_ms",
        rows,
    )


def note_printed(codes: list[str], printed_ms: int, code_mm: float) -> None:
    """Remember that tags were printed, and how wide their codes are: a photo of one is a ruler."""
    execute_many(
        "INSERT INTO tag (code, printed_ms, code_mm) VALUES (?, ?, ?)"
        " ON CONFLICT (code) DO UPDATE SET printed_ms = excluded.printed_ms, code_mm = excluded.code_mm",
        [(code, printed_ms, code_mm) for code in codes],
    )
