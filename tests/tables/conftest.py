"""Files as a grower would have them, and what the collection then holds."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from server import ids
from server.records.database import execute
from server.records.photo_files import PhotoFolder
from server.sync.pull import pull
from tests.support.collection import new_postgresql_database


@pytest.fixture
def photos(tmp_path: Path) -> PhotoFolder:
    """Where the collection keeps its photos."""
    return PhotoFolder(tmp_path / "photos")


@pytest.fixture
def elsewhere(request: pytest.FixtureRequest, collection: str, tmp_path: Path) -> str:
    """The address of an empty database on the engine that the collection is on."""
    if "postgresql" in collection:
        return new_postgresql_database(request.getfixturevalue("postgresql"))
    return str(tmp_path / "elsewhere.db")


def tag_code(number: int) -> str:
    """The canonical tag code whose five symbols count `number` in base 32."""
    symbols = ""
    for _ in range(5):
        number, digit = divmod(number, 32)
        symbols = ids.TAG_SYMBOLS[digit] + symbols
    return symbols + ids.check_character(symbols)


TAG_1, TAG_2, TAG_3 = (tag_code(20_000_001 + number) for number in range(3))
TREES = f"tag,variety,place\n{TAG_1},Amber Bell,Bench\n{TAG_2},Amber Bell,Porch\n"


def records(kind: str) -> list[dict[str, Any]]:
    """The records of a kind as a phone would pull them, withdrawn ones left out."""
    page = pull(None, 5000)
    assert not page.more
    found = [each["fields"] for each in page.records if each["kind"] == kind]
    return [fields for fields in found if not fields.get("voided")]


def ids_of(kind: str) -> list[str]:
    """The ids of a kind's records in use, in the order in which they came."""
    return [each["id"] for each in pull(None, 5000).records if each["kind"] == kind and "voided" not in each["fields"]]


def log_length() -> int:
    """How many changes the collection holds."""
    return int(execute("SELECT count(*) FROM change_log").fetchone()[0])


Write = Callable[..., Path]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """An empty folder for the grower's files."""
    made = tmp_path / "tables"
    made.mkdir()
    return made


@pytest.fixture
def write_files(folder: Path) -> Write:
    """Write files into the folder: `write_files(trees="tag\\n…")`, text as UTF-8 or bytes as they are."""

    def write(**contents: str | bytes) -> Path:
        for name, content in contents.items():
            data = content if isinstance(content, bytes) else content.encode()
            (folder / f"{name}.csv").write_bytes(data)
        return folder

    return write
