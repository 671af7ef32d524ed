"""`leafwalk import` and `leafwalk export` as a grower runs them: what they print and their exit status."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.support.server import run_leafwalk
from tests.tables.conftest import TAG_1, TREES, Write

Leafwalk = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def leafwalk(tmp_path: Path) -> Leafwalk:
    """Runs a command on a home of its own."""

    def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
        return run_leafwalk(tmp_path / "home", *map(str, arguments))

    return run


def test_files_go_in_and_come_out_again(leafwalk: Leafwalk, write_files: Write, tmp_path: Path) -> None:
    folder = write_files(trees=TREES)
    done = leafwalk("import", folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == [
        "trees.csv: 2 new, 0 changed, 0 unchanged",
        "New variety, known by name only: Amber Bell",
        "New place, known by name only: Bench, Porch",
    ]
    again = leafwalk("import", folder / "trees.csv")
    assert again.stdout == "trees.csv: 0 new, 0 changed, 2 unchanged\n"
    out = leafwalk("export", tmp_path / "out")
    assert (out.returncode, out.stderr) == (0, "")
    assert "trees.csv: 2 rows" in out.stdout
    refused = leafwalk("export", tmp_path / "out")
    assert refused.returncode == 1
    assert "add --replace" in refused.stderr
    assert leafwalk("export", "--replace", tmp_path / "out").returncode == 0


def test_what_is_wrong_goes_to_stderr_with_status_1(leafwalk: Leafwalk, write_files: Write) -> None:
    done = leafwalk("import", write_files(trees=f"tag,pot_litres\n{TAG_1},huge\nx,\n"))
    assert (done.returncode, done.stdout) == (1, "")
    assert "trees.csv, line 2, column pot_litres: “huge” must be a number from 0.1 to 2000." in done.stderr
    assert "trees.csv, line 3, column tag:" in done.stderr


def test_an_import_of_nothing_is_wrong_usage(leafwalk: Leafwalk) -> None:
    assert leafwalk("import").returncode == 2
    assert leafwalk("export").returncode == 2
