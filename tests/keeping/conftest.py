"""A collection with a little of everything in it, on either engine, opened as a command opens it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from server import home_lock
from server.collection import open_collection
from server.config import Config
from server.records.database import close_database
from server.records.photo_files import PhotoFolder
from server.sync.pull import pull
from tests.support.collection import Phone

SEEN = "2026-05-03T08:30:00+02:00"


@pytest.fixture
def config(home: Path, database_address: str) -> Iterator[Config]:
    """An open, empty collection, once on each engine."""
    config = Config(home, database_address if database_address.startswith("postgres") else None)
    open_collection(config)
    yield config
    close_database()
    home_lock.leave()


@pytest.fixture
def phone(config: Config) -> Phone:
    """A phone that sent places, a round, a tree, a visit with a photo, and a change that was refused."""
    phone = Phone()
    place = phone.change("place", place="Yard", heated=True, light_percent=62.5)
    walk = phone.change("round", started_at=SEEN, places=[place["record"]])
    phone.send(place, walk)
    tree = phone.tree(place=place["record"], note="ještě roste")
    visit = phone.change("observation", tree=tree, round=walk["record"], seen_at=SEEN, leaves_per_shoot=0.1 + 0.2)
    phone.send(visit, phone.change("observation", visit["record"], leaves=27), phone.change("work", tree=tree))
    photograph(config, phone, b"a leaf", tree)
    return phone


def photograph(config: Config, phone: Phone, data: bytes, tree: str | None = None) -> str:
    """A photo's record and file; what matters here is that bytes come back, not that they show something."""
    sha256 = hashlib.sha256(data).hexdigest()
    phone.send(phone.change("photo", sha256=sha256, tree=tree, taken_at=SEEN))
    PhotoFolder(config.photo_folder).keep(sha256, data + b", re-encoded", 4, 3)
    return sha256


def everything() -> list[dict[str, Any]]:
    """All records as a phone pulls them."""
    return pull(None, 5000).records
