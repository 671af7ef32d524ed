"""The demonstration, built once for all tests of this folder, and open."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest

from demo_db.build import Built, build
from server.collection import open_collection
from server.records.database import close_database

TODAY = date(2026, 6, 14)


@dataclass(frozen=True)
class Timed:
    """A built demonstration and the processor time that it took."""

    built: Built
    cpu_s: float


@pytest.fixture(scope="session")
def built_once(tmp_path_factory: pytest.TempPathFactory) -> Timed:
    """The demonstration of 14 June 2026."""
    began = time.process_time()
    built = build(tmp_path_factory.mktemp("demo") / "home", today=TODAY)
    return Timed(built, time.process_time() - began)


@pytest.fixture
def demo(built_once: Timed) -> Iterator[Built]:
    """The same, with its database open."""
    open_collection(built_once.built.config)
    yield built_once.built
    close_database()


@pytest.fixture
def empty_home(tmp_path: Path) -> Path:
    """A folder that is not there yet."""
    return tmp_path / "home"
