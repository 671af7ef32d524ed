"""The table copier: what comes out of one engine goes into the other unchanged, and no table is forgotten."""

from __future__ import annotations

from pathlib import Path

import pytest

from server.records.copying import TABLES, clear_tables, columns_of, fill_table, read_rows, schema_number
from server.records.database import close_database, database, execute, open_database, snapshot, write
from server.sync.pull import pull
from tests.support.collection import Phone, new_postgresql_database

SEEN = "2026-05-03T08:30:00+02:00"


def some_records() -> None:
    phone = Phone()
    place = phone.change("place", place="Yard", heated=True, light_percent=62.5)
    walk = phone.change("round", started_at=SEEN, places=[place["record"]])
    phone.send(place, phone.change("place", place="Porch", heated=False), walk)
    tree = phone.tree(place=place["record"], note="ještě roste")
    phone.send(
        phone.change("observation", tree=tree, seen_at=SEEN, leaves_per_shoot=0.1 + 0.2, leaves=27),
        phone.change("tree", tree, voided=True),
        phone.change("observation", tree=tree, seen_at="rubbish"),
    )


@pytest.mark.usefixtures("collection")
def test_every_table_of_the_database_is_copied() -> None:
    assert set(database.get_tables()) == {*TABLES, "migration"}


@pytest.mark.parametrize("towards", ["sqlite", "postgresql"])
def test_rows_go_from_either_engine_into_the_other_unchanged(
    collection: str, postgresql: str, tmp_path: Path, towards: str
) -> None:
    some_records()
    with snapshot():
        copied = {table: list(read_rows(table, page_rows=2)) for table in TABLES}
    assert copied["observation"] and copied["parked_change"] and copied["tag"]
    pulled, schema = pull(None, 5000), schema_number()
    open_database(str(tmp_path / "other.db") if towards == "sqlite" else new_postgresql_database(postgresql))
    with write():
        clear_tables()
        for table, rows in copied.items():
            assert fill_table(table, columns_of(table), rows) == len(rows)
    with snapshot():
        assert {table: list(read_rows(table)) for table in TABLES} == copied
    assert (pull(None, 5000), schema_number()) == (pulled, schema)
    assert Phone("later").tree()
    assert execute("SELECT count(*) FROM migration").fetchone()[0] == schema
    close_database()
