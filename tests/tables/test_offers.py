"""The list to share: what is on it, what is not, and that it says nothing of places and persons."""

from __future__ import annotations

import csv
from pathlib import Path

import pypdfium2
import pytest

from server import ids
from server.api.offers import COLUMNS, offers_csv
from tests.support.collection import Phone
from tests.support.server import run_leafwalk
from tests.tables.conftest import TAG_1, TAG_2, TAG_3


def plant(phone: Phone) -> None:
    """A batch of which 7 rooted and one has a tag of its own; a tree to give away, one retired, one to retire."""
    fig = phone.change("variety", variety="Amber Bell", species="fig", origin_country="ITA")
    plum = phone.change("variety", variety="=Sly Plum", species="plum")
    gone = phone.change("variety", variety="Long Gone", species="fig")
    place = phone.change("place", place="Mill yard", cover="open")
    mother = phone.change("tree", tag=TAG_1, variety=fig["record"], place=place["record"], source="Old Ansel")
    batch = phone.change("batch", batch="February wood", parent=mother["record"], method="cutting",
                         taken_on="2026-02-10", taken=10, rooted=7, failed=3)  # fmt: skip
    dead = phone.change("batch", batch="Dead wood", variety=fig["record"], taken=4, rooted=0, failed=4)
    child = phone.change("tree", tag=TAG_2, variety=fig["record"], batch=batch["record"])
    given = phone.change("tree", tag=TAG_3, variety=plum["record"], decision="give_away", started_on="2024-04-01",
                         note="ask Ansel")  # fmt: skip
    retired = phone.change("tree", tag=ids.new_tag_code(), variety=gone["record"], standing="retired",
                           decision="give_away")  # fmt: skip
    going = phone.change("tree", tag=ids.new_tag_code(), variety=gone["record"], decision="retire")
    sent = phone.send(fig, plum, gone, place, mother, batch, dead, child, given, retired, going)
    assert {each.outcome for each in sent} == {"stored"}


@pytest.mark.usefixtures("collection")
def test_rooted_plants_without_a_tag_and_trees_to_give_are_offered() -> None:
    plant(Phone())
    head, *rows = csv.reader(offers_csv().decode().splitlines())
    assert tuple(head) == COLUMNS
    assert rows == [
        ["plant", "fig", "Amber Bell", "rooted cutting", "6", "2026-02-10", "", ""],
        ["plant", "plum", "'=Sly Plum", "tree in its pot", "1", "2024-04-01", TAG_3, ""],
        ["wood", "fig", "Amber Bell", "", "", "", "", "ITA"],
        ["wood", "plum", "'=Sly Plum", "", "", "", "", ""],
    ]


def test_the_command_writes_paper_and_table_without_place_or_person(home: Path, tmp_path: Path) -> None:
    lists = tmp_path / "lists"
    lists.mkdir()
    (lists / "trees.csv").write_text(
        f"tag,variety,place,source,decision\n{TAG_1},Amber Bell,Mill yard,Old Ansel,give_away\n",
        encoding="utf-8",
    )
    assert run_leafwalk(home, "import", str(lists)).returncode == 0
    for name in ("list.pdf", "list.csv"):
        out = tmp_path / name
        assert run_leafwalk(home, "offers", "--out", str(out)).stdout == f"The list is in {out}\n"
    pages = pypdfium2.PdfDocument((tmp_path / "list.pdf").read_bytes())
    told = "".join(page.get_textpage().get_text_bounded() for page in pages)
    assert "Amber Bell" in told and TAG_1 in told and "plant passport" in told
    for text in (told, (tmp_path / "list.csv").read_text(encoding="utf-8")):
        assert "Mill yard" not in text and "Ansel" not in text
    refused = run_leafwalk(home, "offers", "--out", str(tmp_path / "list.odt"))
    assert (refused.returncode, refused.stdout) == (1, "")
    assert ".pdf or .csv" in refused.stderr
