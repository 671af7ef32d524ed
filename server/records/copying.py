"""The one table copier: every table out of a database as plain rows, page by page, and back into another engine's."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

import peewee

from server.records import models
from server.records.database import execute, execute_many
from server.records.models import RECORD_MODELS, Model

PAGE_ROWS = 2000

# Every table but `migration`, which migrating fills, in an order in which none refers to a later one.
TABLES: dict[str, type[Model]] = {
    "setting": models.Setting,
    "counter": models.Counter,
    "device": models.Device,
    "pairing": models.Pairing,
    "change_log": models.ChangeLog,
    "parked_change": models.ParkedChange,
    **{kind: RECORD_MODELS[kind] for kind in ("variety", "place", "tree")},
    "tag": models.Tag,
    **{kind: model for kind, model in RECORD_MODELS.items() if kind not in ("variety", "place", "tree")},
    "photo_file": models.PhotoFile,
}


def columns_of(table: str) -> tuple[str, ...]:
    """A table's columns, in the order in which `read_rows` gives them."""
    return tuple(field.column_name for field in TABLES[table]._meta.sorted_fields)


def read_rows(table: str, page_rows: int = PAGE_ROWS) -> Iterator[tuple[Any, ...]]:
    """A table's rows in the order of their key, as values that JSON has; never more than a page in memory.

    Ask within `snapshot()`, so that pages and tables are of one moment.
    """
    columns, key, truths = columns_of(table), _key(table), _truth_places(table)
    head = f"SELECT {', '.join(columns)} FROM {table}"  # noqa: S608 our own names
    at = columns.index(key)
    rows = execute(f"{head} ORDER BY {key} LIMIT ?", (page_rows,)).fetchall()
    while rows:
        for row in rows:
            yield _with_truths(row, truths)
        if len(rows) < page_rows:
            return
        rows = execute(f"{head} WHERE {key} > ? ORDER BY {key} LIMIT ?", (rows[-1][at], page_rows)).fetchall()


def fill_table(table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> int:
    """Write rows into a table that is empty, and say how many they were. Inside `write()` or a transaction only.

    `columns` may be fewer than the table has: an older schema's, filled before it is migrated.
    """
    marks = ", ".join("?" * len(columns))
    sql = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})"  # noqa: S608 our own names
    left = iter(rows)
    count = 0
    while page := [tuple(row) for row in islice(left, PAGE_ROWS)]:
        execute_many(sql, page)
        count += len(page)
    return count


def clear_tables(tables: Iterable[str] = TABLES) -> None:
    """Take every row out of the named tables, those first that refer to others. Inside a transaction only."""
    wanted = set(tables)
    for table in reversed(TABLES):
        if table in wanted:
            execute(f"DELETE FROM {table}")  # noqa: S608 our own names


def merge_rows(table: str, rows: Iterable[Sequence[Any]]) -> None:
    """Write rows, as `read_rows` gives them, over those that have the same key. Inside a transaction only."""
    columns, key = columns_of(table), _key(table)
    updates = ", ".join(f"{column} = excluded.{column}" for column in columns if column != key)
    execute_many(
        f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"  # noqa: S608 our names
        f" ON CONFLICT ({key}) DO UPDATE SET {updates}",
        [tuple(row) for row in rows],
    )


def drop_tables() -> None:
    """Take every table away, migrations and all, so that an older schema can be made. Inside a transaction only."""
    for table in (*reversed(TABLES), "migration"):
        execute(f"DROP TABLE {table}")


def schema_number() -> int:
    """The number of the newest migration of the open database."""
    return int(execute("SELECT max(number) FROM migration").fetchone()[0])


def _key(table: str) -> str:
    key: Any = TABLES[table]._meta.primary_key
    return str(key.column_name)


def _truth_places(table: str) -> tuple[int, ...]:
    fields = TABLES[table]._meta.sorted_fields
    return tuple(place for place, field in enumerate(fields) if isinstance(field, peewee.BooleanField))


def _with_truths(row: tuple[Any, ...], places: tuple[int, ...]) -> tuple[Any, ...]:
    """SQLite keeps truth values as 0 and 1; PostgreSQL and JSON know them as such."""
    if not places:
        return tuple(row)
    values = list(row)
    for place in places:
        values[place] = None if values[place] is None else bool(values[place])
    return tuple(values)
