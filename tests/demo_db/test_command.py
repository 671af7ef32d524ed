"""The command `leafwalk demo`."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from server.cli import main
from server.collection import open_collection
from server.config import Config
from server.records.database import close_database, execute
from tests.support.collection import Phone


@pytest.fixture
def leafwalk():
    """Runs the command in this process."""
    yield lambda *arguments: CliRunner().invoke(main, [str(each) for each in arguments])
    close_database()


def test_it_builds_once_and_then_opens_what_is_there(leafwalk, empty_home: Path):
    first = leafwalk("--home", empty_home, "demo", "--no-serve", "--on", "2026-06-14")
    assert first.exit_code == 0 and "was built" in first.output
    count = execute("SELECT count(*) FROM change_log").fetchone()[0]
    again = leafwalk("--home", empty_home, "demo", "--no-serve")
    assert again.exit_code == 0 and "stands as it was left" in again.output
    assert execute("SELECT count(*) FROM change_log").fetchone()[0] == count > 3000
    other = leafwalk("--home", empty_home, "demo", "--no-serve", "--on", "2026-06-13")
    assert other.exit_code == 1 and "2026-06-14" in other.stderr


def test_a_collection_of_ones_own_is_refused_and_left_alone(leafwalk, empty_home: Path):
    open_collection(Config(empty_home))
    Phone().tree()
    result = leafwalk("--home", empty_home, "demo", "--no-serve")
    assert result.exit_code == 1 and "holds a collection already" in result.stderr
    assert execute("SELECT count(*) FROM tree").fetchone() == (1,)


def test_a_day_ahead_is_refused_before_anything_is_made(leafwalk, empty_home: Path):
    result = leafwalk("--home", empty_home, "demo", "--no-serve", "--on", "2999-01-01")
    assert result.exit_code == 1 and re.search(r"lies ahead.*Give today", result.stderr)
    assert not empty_home.exists()
