"""A database server that drops its connections, as at its restart: told as such, then all goes on."""

from __future__ import annotations

import psycopg
import pytest

from tests.support.server import Visitor


def drop_connections(address: str) -> None:
    """What a restart of PostgreSQL does to whoever is connected to the database at `address`."""
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
            " WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )


@pytest.mark.parametrize("database_address", ["postgresql"], indirect=True)
def test_a_dropped_connection_is_told_once_and_then_replaced(owner: Visitor, database_address: str) -> None:
    for call in (lambda: owner.call("GET", "/settings"), lambda: owner.sync(owner.change("place", place="Porch"))):
        drop_connections(database_address)
        answer = call()
        assert answer.status_code == 503
        assert answer.json["type"].endswith("/unavailable")
        assert call().status_code == 200
    assert [each["fields"]["place"] for each in owner.sync().json["records"]] == ["Porch"]
