"""`leafwalk card` and `leafwalk measure` as a user runs them, and the card from the server."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
import zxingcpp

from labels.card import CARDS
from server import ids
from server.collection import open_collection
from server.config import Config
from server.records.database import close_database
from server.records.writing import note_printed
from tests.photos.drawn_leaves import Harm, draw_leaf
from tests.photos.scenes import Shot, photograph, tag_scene
from tests.support.server import Visitor, run_leafwalk

SHOT = Shot(width_px=1400, height_px=1050)
CODE = "K7M2P3"


@pytest.fixture(scope="module")
def photos(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, float]:
    """A folder with a good photo, one without a code and a text file; and the good leaf's area in cm²."""
    folder = tmp_path_factory.mktemp("photos")
    rng = np.random.default_rng(8)
    leaf = draw_leaf("oval", 110, (60, 115, 45), Harm(), rng)
    scene = tag_scene([leaf], [(190, 120)], rng, code=CODE)
    (folder / "good.jpg").write_bytes(photograph(scene, SHOT, rng))
    (folder / "far.JPG").write_bytes(photograph(scene, replace(SHOT, fill=0.15), rng))
    (folder / "notes.txt").write_text("nothing", encoding="utf-8")
    return folder, float(leaf.outline_cm2)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_card_is_printed(paper: str, tmp_path: Path) -> None:
    out = tmp_path / "card.pdf"
    done = run_leafwalk(tmp_path / "home", "card", "--paper", paper, "--out", str(out))
    assert (done.returncode, done.stderr) == (0, "")
    assert texts_on(out.read_bytes()) == set(CARDS[paper].codes)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--out", "card.png"), "ending in .pdf"),
        (("--paper", "a3", "--out", "card.pdf"), "a4, letter"),
        (("--out", "missing/card.pdf"), "choose another file"),
    ],
)
def test_a_card_that_cannot_be_printed_is_refused(arguments: tuple[str, ...], told: str, tmp_path: Path) -> None:
    paths = [str(tmp_path / each) if each.startswith(("card", "missing")) else each for each in arguments]
    done = run_leafwalk(tmp_path / "home", "card", *paths)
    assert done.returncode == 1
    assert told in done.stderr
    assert not list(tmp_path.glob("*.p*"))


def test_one_photo_is_one_document(photos: tuple[Path, float], tmp_path: Path) -> None:
    folder, area_cm2 = photos
    done = run_leafwalk(tmp_path / "home", "measure", str(folder / "good.jpg"), "--json")
    assert (done.returncode, done.stderr) == (0, "")
    document = json.loads(done.stdout)
    assert document["reference"] == "tag"
    assert document["scale_mm_per_px"] > 0
    (leaf,) = document["leaves"]
    assert leaf["area_cm2"] == pytest.approx(area_cm2, rel=0.05)
    assert leaf["damage_percent"] < 2
    assert len(leaf["box"]) == 4
    # Measuring alone makes no collection.
    assert not (tmp_path / "home").exists()


def test_a_photo_without_code_is_refused_with_what_to_do(photos: tuple[Path, float], tmp_path: Path) -> None:
    done = run_leafwalk(tmp_path / "home", "measure", str(photos[0] / "far.JPG"), "--json")
    assert (done.returncode, done.stdout) == (1, "")
    assert "go as near as 30 to 50 cm" in done.stderr


def test_a_folder_is_measured_with_progress_and_a_table(photos: tuple[Path, float], tmp_path: Path) -> None:
    folder, area_cm2 = photos
    table = tmp_path / "leaves.csv"
    done = run_leafwalk(tmp_path / "home", "measure", str(folder), "--csv", str(table))
    assert done.returncode == 0
    assert "[2/2]" in done.stdout
    assert "[1/2]" in done.stderr and "far.JPG" in done.stderr
    with table.open(encoding="utf-8", newline="") as file:
        far, good = csv.DictReader(file)
    assert far["problem"] and not far["area_cm2"]
    assert float(good["area_cm2"]) == pytest.approx(area_cm2, rel=0.05)
    assert good["leaf"] == "1" and not good["problem"]


def test_what_is_no_photo_is_refused(tmp_path: Path) -> None:
    (tmp_path / "text.jpg").write_text("no picture", encoding="utf-8")
    (tmp_path / "empty").mkdir()
    for path, told in (("text.jpg", "no JPEG"), ("empty", "no photo"), ("gone.jpg", "can't be read")):
        done = run_leafwalk(tmp_path / "home", "measure", str(tmp_path / path))
        assert done.returncode == 1
        assert told in done.stderr


def test_a_tag_is_as_wide_as_is_said(photos: tuple[Path, float], tmp_path: Path) -> None:
    folder, area_cm2 = photos
    wider = run_leafwalk(tmp_path, "measure", str(folder / "good.jpg"), "--json", "--code-mm", "40")
    # Twice the width is four times the area.
    assert json.loads(wider.stdout)["leaves"][0]["area_cm2"] == pytest.approx(4 * area_cm2, rel=0.05)


def test_a_tag_on_record_has_the_width_that_it_was_printed_with(photos: tuple[Path, float], home: Path) -> None:
    folder, area_cm2 = photos
    open_collection(Config(home))
    note_printed([CODE], ids.now_ms(), 10.0)
    close_database()
    done = run_leafwalk(home, "measure", str(folder / "good.jpg"), "--json")
    assert json.loads(done.stdout)["leaves"][0]["area_cm2"] == pytest.approx(area_cm2 / 4, rel=0.05)


def test_the_server_hands_out_the_card(owner: Visitor) -> None:
    answer = owner.call("GET", "/card.pdf?paper=letter")
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
    assert texts_on(answer.data) == set(CARDS["letter"].codes)
    assert owner.call("GET", "/card.pdf?paper=a3").status_code == 422


def texts_on(pdf: bytes) -> set[str]:
    """The texts of the codes on a document's first page."""
    with pypdfium2.PdfDocument(pdf) as document:
        picture = document[0].render(scale=2).to_pil()
    return {one.text for one in zxingcpp.read_barcodes(picture)}
