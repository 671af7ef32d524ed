"""Columns beyond the usual ones: taken by the import, written by the export only where a record fills them."""

from __future__ import annotations

from pathlib import Path

import pytest

from server.errors import Refused
from server.records.photo_files import PhotoFolder
from server.tables.exporting import export_to
from server.tables.importing import import_files
from tests.support.collection import Phone
from tests.tables.conftest import TAG_1, TAG_2, TREES, Write, ids_of, log_length, records

pytestmark = pytest.mark.usefixtures("collection")

SEEN, LATER = "2026-05-03T08:30:00+02:00", "2026-05-07T08:30:00+02:00"
TREES_HEADER = "tag,variety,place,pot_litres,source,started_on,standing,position,note"
OBSERVATIONS_HEADER = (
    "tag,seen_at,shoots,leaves_per_shoot,leaves,leaves_fallen,shoot_cm,fruit_breba,fruit_main,"
    "damage_percent,causes,bbch,soil,note"
)


def export(folder: Path, name: str) -> list[str]:
    """The lines of one file of an export."""
    export_to(folder, PhotoFolder(folder / "kept"))
    return (folder / name).read_text().splitlines()


def test_marked_shoots_come_in_and_go_out_in_columns_of_their_own(tmp_path: Path, write_files: Write) -> None:
    files = write_files(
        trees=f"tag,marked_shoots\n{TAG_1},4\n{TAG_2},\n",
        observations=f'tag,seen_at,shoot_leaves\n{TAG_1},{SEEN},"5;6;;7"\n{TAG_1},{LATER},6\n{TAG_2},{SEEN},\n',
    )
    import_files([files])
    assert [tree.get("marked_shoots") for tree in records("tree")] == [4, None]
    assert [seen.get("shoot_leaves") for seen in records("observation")] == ["5;6;;7", "6", None]
    trees, seen = export(tmp_path / "out", "trees.csv"), export(tmp_path / "out2", "observations.csv")
    assert trees[0] == f"{TREES_HEADER},marked_shoots"
    assert seen[0] == f"{OBSERVATIONS_HEADER},shoot_leaves"
    assert f'{TAG_1},{SEEN},,,,,,,,,,,,,"5;6;;7"' in seen
    length = log_length()
    import_files([tmp_path / "out"])
    assert log_length() == length


def test_a_collection_without_marked_shoots_has_the_usual_columns_alone(tmp_path: Path, write_files: Write) -> None:
    import_files([write_files(trees=TREES, observations=f"tag,seen_at,leaves\n{TAG_1},{SEEN},1\n")])
    assert export(tmp_path / "out", "trees.csv")[0] == TREES_HEADER
    assert (tmp_path / "out" / "observations.csv").read_text().splitlines()[0] == OBSERVATIONS_HEADER


def test_counts_of_a_withdrawn_tree_bring_no_column_back(tmp_path: Path, write_files: Write) -> None:
    import_files([write_files(trees=f"tag\n{TAG_1}\n", observations=f"tag,seen_at,shoot_leaves\n{TAG_1},{SEEN},5\n")])
    phone = Phone()
    phone.send(phone.change("tree", ids_of("tree")[0], voided=True))
    assert export(tmp_path / "out", "observations.csv") == [OBSERVATIONS_HEADER]


def test_counts_that_are_none_are_told_with_line_and_column(write_files: Write) -> None:
    with pytest.raises(Refused, match=r"observations\.csv, line 2, column shoot_leaves: “5,6”.*separated by “;”"):
        import_files([write_files(trees=TREES, observations=f'tag,seen_at,shoot_leaves\n{TAG_1},{SEEN},"5,6"\n')])
