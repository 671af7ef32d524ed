"""A real database in a temporary home, and changes as a phone would send them."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

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


@pytest.fixture
def collection(tmp_path: Path) -> Iterator[Path]:
    """An empty collection, open; yields its home folder."""
    open_database(str(tmp_path / "leafwalk.db"))
    yield tmp_path
    close_database()
