"""Transplanting a home from its SQLite file into a real PostgreSQL database."""

from __future__ import annotations

import hashlib
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest

from server import ids
from server.config import Config
from server.errors import NotFound, Refused
from server.keeping import transplanting
from server.keeping.transplanting import transplant
from server.records.copying import TABLES, read_rows
from server.records.database import close_database, get_setting, open_database, read_counter, set_setting, write
from server.sync.pull import pull
from tests.support.collection import Phone, new_postgresql_database

SEEN = "2026-05-03T08:30:00+02:00"


@pytest.fixture
def address(postgresql: str) -> Iterator[str]:
    """An empty PostgreSQL database."""
    made = new_postgresql_database(postgresql)
    yield made
    close_database()
    with psycopg.connect(postgresql, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {made.split('/')[3].split('?')[0]} WITH (FORCE)")


@pytest.fixture
def filled(tmp_path: Path) -> Config:
    """A home on SQLite with something in every table that refers to others, closed."""
    config = Config(tmp_path)
    open_database(config.database_address)
    phone = Phone("Ada’s phone")
    with write():
        set_setting("collection", "Čeká na déšť")
    place = phone.change("place", place="Bench", heated=False, light_percent=66.6)
    tree = phone.change("tree", tag=ids.new_tag_code(), place=place["record"], pot_litres=19, marked_shoots=3)
    facts = [
        phone.change(
            "observation", tree=tree["record"], seen_at=SEEN, leaves=n, shoot_leaves="1;;2", note="“q”, 'a'\n\t"
        )
        for n in range(transplanting.PAGE_ROWS + 7)
    ]
    refused = phone.change("work", tree=tree["record"], done_at=SEEN, task="dance")
    gone = phone.change("tree", tree["record"], note=None, voided=True)
    outcomes = phone.send(place, tree, *facts, refused, gone)
    assert [outcome.outcome for outcome in outcomes].count("refused") == 1
    close_database()
    return config


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def all_rows() -> dict[str, list[tuple[object, ...]]]:
    return {table: sorted(read_rows(table), key=repr) for table in TABLES}


def test_every_row_of_every_table_goes_over_and_the_old_file_stays(filled: Config, address: str) -> None:
    before = digest(Path(filled.database_address))
    done = transplant(filled, address)
    assert digest(Path(filled.database_address)) == before
    open_database(filled.database_address)
    old, epoch, seq, page = all_rows(), get_setting("epoch"), read_counter(), pull(None, 5000)
    open_database(address)
    assert all_rows() == old
    assert done.rows == {table: len(rows) for table, rows in old.items()}
    assert done.rows["observation"] == transplanting.PAGE_ROWS + 7
    # To a phone it is the same home: same epoch, same cursor, same records.
    assert (get_setting("epoch"), read_counter()) == (epoch, seq)
    assert pull(None, 5000) == page


def test_what_is_recorded_next_goes_on_from_the_counter(filled: Config, address: str) -> None:
    transplant(filled, address)
    open_database(address)
    seq = read_counter()
    Phone().tree()
    assert read_counter() == seq + 1


def test_a_database_that_holds_something_is_refused_and_left_alone(filled: Config, address: str) -> None:
    open_database(address)
    Phone().tree()
    rows = all_rows()
    with pytest.raises(Refused, match="holds a collection already"):
        transplant(filled, address)
    open_database(address)
    assert all_rows() == rows


def test_another_programs_database_is_refused_and_gets_no_table(filled: Config, address: str) -> None:
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute("CREATE TABLE invoices (id int)")
    with pytest.raises(Refused, match=r"tables of another program \(invoices\)"):
        transplant(filled, address)
    with psycopg.connect(address) as connection:
        found = connection.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'").fetchall()
    assert found == [("invoices",)]


def test_a_row_that_comes_out_otherwise_undoes_it_all(filled: Config, address: str) -> None:
    open_database(address)
    close_database()
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(
            "CREATE FUNCTION meddle() RETURNS trigger AS $$ BEGIN NEW.note := NULL; RETURN NEW; END $$ LANGUAGE plpgsql"
        )
        connection.execute(
            "CREATE TRIGGER meddling BEFORE INSERT ON observation FOR EACH ROW EXECUTE FUNCTION meddle()"
        )
    with pytest.raises(Refused, match="observation came out otherwise"):
        transplant(filled, address)
    open_database(address)
    assert read_counter() == 0
    assert [table for table, rows in all_rows().items() if rows] == ["setting", "counter"]


def test_text_that_postgresql_has_no_place_for_is_told_and_nothing_goes_over(filled: Config, address: str) -> None:
    with closing(sqlite3.connect(filled.database_address)) as connection:
        connection.execute("UPDATE tree SET note = 'a' || char(0) || 'b'")
        connection.commit()
    with pytest.raises(Refused, match="PostgreSQL won't take"):
        transplant(filled, address)
    open_database(address)
    assert read_counter() == 0


def test_a_home_that_is_served_is_refused(filled: Config, address: str) -> None:
    script = (
        "import sys, pathlib; from server import home_lock; home_lock.enter(pathlib.Path(sys.argv[1]));"
        " print('in', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", script, str(filled.home)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None and other.stdout.readline() == "in\n"
        with pytest.raises(Refused, match=r"is in use by a server or another command; stop it first\.$"):
            transplant(filled, address)
        other.communicate()
    assert transplant(filled, address).rows["tree"] == 1


def test_a_home_without_a_collection_is_told(tmp_path: Path, address: str) -> None:
    with pytest.raises(NotFound, match="holds no collection"):
        transplant(Config(tmp_path / "nowhere"), address)
    assert not (tmp_path / "nowhere").exists()
    (tmp_path / "leafwalk.db").touch()
    with pytest.raises(NotFound, match="holds no collection"):
        transplant(Config(tmp_path), address)
