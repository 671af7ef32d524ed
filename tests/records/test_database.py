"""The database: migrations, durability settings, the write helper, models that match the tables."""

from __future__ import annotations

import threading

import peewee
import pytest

from server.errors import Refused, Unavailable
from server.records import models
from server.records.database import (
    close_database,
    database,
    execute,
    get_setting,
    newest_schema,
    open_database,
    read_counter,
    set_counter,
    set_setting,
    write,
)
from server.records.models import RECORD_MODELS, Model
from server.records.writing import AT_FIELDS, field_names
from server.sync.fields import KINDS
from tests.support.collection import Phone


@pytest.mark.usefixtures("collection")
def test_the_models_name_exactly_the_columns_of_the_migrations() -> None:
    for model in (m for m in vars(models).values() if isinstance(m, type) and issubclass(m, Model)):
        if model in (Model, models.Record, models.Fact):
            continue
        columns = {column.name: column.null for column in database.get_columns(model._meta.table_name)}
        fields = {field.column_name: field.null for field in model._meta.sorted_fields}
        assert fields == columns, model


@pytest.mark.usefixtures("collection")
def test_the_wire_and_the_tables_know_the_same_kinds_and_fields() -> None:
    assert list(RECORD_MODELS) == list(KINDS)
    for kind, definition in KINDS.items():
        assert set(field_names(kind)) == set(definition.fields), kind
        assert AT_FIELDS.get(kind) == (definition.at if kind != "round" else None)


@pytest.mark.usefixtures("sqlite_collection")
def test_every_connection_is_durable_and_holds_references() -> None:
    found: list[tuple[object, ...]] = []

    def ask() -> None:
        for pragma in ("journal_mode", "synchronous", "foreign_keys"):
            found.append(execute(f"PRAGMA {pragma}").fetchone())
        close_database()

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join()
    assert found == [("wal",), (2,), (1,)]


def test_opening_again_keeps_epoch_and_migrates_nothing_twice(collection: str) -> None:
    epoch = get_setting("epoch")
    open_database(collection)
    assert get_setting("epoch") == epoch
    numbers = [row[0] for row in execute("SELECT number FROM migration ORDER BY number").fetchall()]
    assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.usefixtures("collection")
def test_a_failed_write_keeps_nothing() -> None:
    with pytest.raises(ZeroDivisionError), write():
        set_setting("x", 1)
        _ = 1 / 0
    assert get_setting("x") is None


@pytest.mark.usefixtures("collection")
def test_an_inner_write_belongs_to_the_outer_one() -> None:
    with pytest.raises(ZeroDivisionError), write():
        with write():
            set_setting("x", 1)
        _ = 1 / 0
    assert get_setting("x") is None


@pytest.mark.usefixtures("collection")
def test_eight_writers_take_turns_and_none_is_turned_away() -> None:
    failures: list[BaseException] = []

    def bump() -> None:
        try:
            for _ in range(25):
                with write():
                    set_counter(read_counter() + 1)
        except BaseException as error:
            failures.append(error)
        finally:
            close_database()

    threads = [threading.Thread(target=bump) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (failures, read_counter()) == ([], 200)


@pytest.mark.usefixtures("sqlite_collection")
def test_a_database_that_is_full_says_so_and_keeps_nothing() -> None:
    # SQLite's own limit on pages makes a real "database or disk is full".
    phone = Phone()
    tree = phone.tree()
    pages = execute("PRAGMA page_count").fetchone()[0]
    execute(f"PRAGMA max_page_count = {pages + 2}")
    batch = [
        phone.change("observation", tree=tree, seen_at="2026-05-03T08:30:00Z", note="x" * 1000) for _ in range(200)
    ]
    with pytest.raises(Unavailable, match="disk of the server is full"):
        phone.send(*batch)
    execute(f"PRAGMA max_page_count = {pages * 100}")
    assert execute("SELECT count(*) FROM observation").fetchone()[0] == 0
    assert {o.outcome for o in phone.send(*batch)} == {"stored"}, "with room made, the same changes go in"


def test_a_database_of_a_newer_version_is_refused_and_left_as_it_is(collection: str) -> None:
    with write():
        execute("INSERT INTO migration (number, name) VALUES (?, 'later')", (newest_schema() + 1,))
        execute("DELETE FROM migration WHERE number = 1")
    with pytest.raises(Refused, match="newer Leafwalk"):
        open_database(collection)
    assert execute("SELECT count(*) FROM migration WHERE number = 1").fetchone()[0] == 0


@pytest.mark.usefixtures("collection")
def test_a_fact_without_its_tree_cannot_get_into_the_table() -> None:
    with pytest.raises(peewee.IntegrityError), write():
        execute("INSERT INTO observation (id, seq, voided, at_s, tree, seen_at) VALUES ('a', 9, FALSE, 1, 'none', 'x')")
