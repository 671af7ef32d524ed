"""A collection from its home's SQLite file into an empty PostgreSQL database: all of it or nothing, every row checked.

Both databases are open at once, each in a transaction of its own. Rows go over page by page, and are read back from
their new place before that is made to last. The old file stays as it was, and so does the epoch: to a phone it is the
same home at another address.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from typing import Any

import peewee

from server import home_lock
from server.config import Config
from server.errors import NotFound, Refused
from server.keeping import swap
from server.records.copying import PAGE_ROWS, TABLES, clear_tables, columns_of, fill_table, read_rows
from server.records.database import (
    bound_to,
    close_database,
    database_at,
    execute,
    open_database,
    read_counter,
    write,
)

Row = tuple[Any, ...]
# What making the tables writes by itself: an epoch, and a counter that stands at 0.
MADE_EMPTY = {"setting", "counter"}
DIGEST_SPAN = 2**256


@dataclass(slots=True)
class Digest:
    """Rows counted and summed up, whatever their order: two engines sort text each in its own way."""

    rows: int = 0
    total: int = 0

    def add(self, rows: Iterable[Row]) -> None:
        """Take rows in."""
        for row in rows:
            text = json.dumps(row, ensure_ascii=True, separators=(",", ":"))
            self.total = (self.total + int.from_bytes(hashlib.sha256(text.encode()).digest())) % DIGEST_SPAN
            self.rows += 1


@dataclass(slots=True)
class Transplanted:
    """What went over: rows by table, each table read back and found equal."""

    file: Path
    rows: dict[str, int] = field(default_factory=dict)

    def lines(self) -> list[str]:
        """The summary in words, a line each."""
        return [
            *(f"{table}: {count} rows" for table, count in self.rows.items() if count),
            f"{sum(self.rows.values())} rows were copied, read back and found equal; {self.file} is as it was.",
            "Photos and certificates stay in the home. From now on set LEAFWALK_DATABASE for every command, or give",
            "--database; what is recorded without goes into the old file alone.",
        ]


def transplant(home: Config, address: str) -> Transplanted:
    """Copy the collection of a home's SQLite file into the empty PostgreSQL database at `address`.

    The file is brought up to date first, as by any command. Raises NotFound where the home has none, Refused where the
    database holds something already, takes a row not as it was, or while the home is in use; Unavailable when it fails.
    Nothing was copied then.
    """
    file = home.home / swap.DATABASE
    if swap.is_without_database(home.home):
        raise NotFound(f"{home.home} holds no collection on SQLite; name its folder with --home.")
    done = Transplanted(file)
    with home_lock.alone(home.home):
        try:
            old = open_database(str(file))
            _refuse_foreign(address)
            with closing(old), closing(open_database(address)) as new:
                _copy(old, new, done)
        except (peewee.DataError, peewee.IntegrityError, ValueError) as error:
            raise Refused(f"PostgreSQL won't take what is in {file} ({error}); nothing was copied.") from error
        finally:
            close_database()
    return done


def _refuse_foreign(address: str) -> None:
    """A database in which another program keeps its tables is left alone."""
    with closing(database_at(address)) as there:
        strange = sorted(set(there.get_tables()) - {*TABLES, "migration"})
    if strange:
        raise Refused(
            f"The database holds tables of another program ({', '.join(strange[:5])}); make an empty one for this."
        )


def _copy(old: peewee.Database, new: peewee.Database, done: Transplanted) -> None:
    with old.atomic(), bound_to(new), write():
        _refuse_used()
        clear_tables()
        for table in TABLES:
            done.rows[table] = _copy_table(table, old)


def _refuse_used() -> None:
    """Asked with the counter's row locked, so that no server slips in a change afterwards."""
    filled = [table for table in TABLES if execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone()]  # noqa: S608 our own names
    if set(filled) - MADE_EMPTY or read_counter():
        raise Refused(
            "The database holds a collection already; make an empty one for this, or restore a backup into it."
        )


def _copy_table(table: str, old: peewee.Database) -> int:
    """Copy a table into the open database, and read it back; the number of its rows."""
    sent, columns = Digest(), columns_of(table)
    for page in _pages(table, old):
        sent.add(page)
        fill_table(table, columns, page)
    came = Digest()
    came.add(read_rows(table))
    if came != sent:
        raise Refused(f"{table} came out otherwise than it was ({came.rows} of {sent.rows} rows); nothing was copied.")
    return sent.rows


def _pages(table: str, old: peewee.Database) -> Iterator[list[Row]]:
    rows = read_rows(table)
    while True:
        with bound_to(old):
            page = list(islice(rows, PAGE_ROWS))
        if not page:
            return
        yield page
