"""Tags over HTTP: whose, in which form, and that no code is given twice."""

from __future__ import annotations

from typing import Any

import pypdfium2
import zxingcpp
from PIL import Image

from labels.papers import PAPER_DEFAULT, PAPERS
from server import ids
from server.records.database import execute
from tests.support.server import Visitor

DPI = 300


def codes_in(pdf: bytes) -> list[str]:
    """What an independent decoder (ZXing) reads from the rendered pages."""
    found = []
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        picture: Image.Image = page.render(scale=DPI / 72).to_pil()
        found += [code.text for code in zxingcpp.read_barcodes(picture)]
    document.close()
    return sorted(found)


def orchard(owner: Visitor) -> dict[str, Any]:
    """Two places and four trees, one of which was carried from the first place to the second."""
    names = {"door": "By the door", "yard": "Yard"}
    places = {key: owner.change("place", place=name) for key, name in names.items()}
    variety = owner.change("variety", variety="Morning Bell", species="Ficus carica")
    owner.stored(*places.values(), variety)
    door, yard = places["door"]["record"], places["yard"]["record"]
    trees = {}
    for name, place in (("a", door), ("b", door), ("c", yard), ("d", yard)):
        code = ids.new_tag_code()
        trees[name] = (code, owner.tree(tag=code, variety=variety["record"], place=place, source="swap"))
    owner.stored(owner.change("move", tree=trees["a"][1], moved_at="2025-05-01T09:00:00+02:00", to_place=yard))
    return {"door": door, "yard": yard, "trees": trees}


def test_tags_are_printed_for_a_place_for_trees_or_for_all(owner: Visitor) -> None:
    known = orchard(owner)
    codes = {name: code for name, (code, _) in known["trees"].items()}
    for query, names in (
        ("", "abcd"),
        (f"?place={known['yard']}", "acd"),
        (f"?place={known['door']}", "b"),
        (f"?trees={known['trees']['a'][1]},{known['trees']['b'][1]}", "ab"),
        (f"?place={known['door']}&trees={known['trees']['c'][1]}", "bc"),
    ):
        answer = owner.call("GET", f"/tags.pdf{query}")
        assert (answer.status_code, answer.mimetype) == (200, "application/pdf"), query
        assert codes_in(answer.data) == sorted(codes[name] for name in names), query
    printed = dict(execute("SELECT code, code_mm FROM tag WHERE printed_ms IS NOT NULL").fetchall())
    assert printed == dict.fromkeys(codes.values(), 20.0)


def test_blank_tags_get_codes_that_are_never_given_again(owner: Visitor) -> None:
    orchard(owner)
    seen: set[str] = set()
    for _ in range(3):
        codes = codes_in(owner.call("GET", "/tags.pdf?blank=21").data)
        assert len(codes) == 21
        assert [ids.read_tag_code(code) for code in codes] == codes
        assert not seen & set(codes)
        seen |= set(codes)
    assert seen <= {code for (code,) in execute("SELECT code FROM tag").fetchall()}
    # A tree goes on a blank tag later.
    owner.tree(tag=seen.pop())


def test_with_a_public_address_the_code_leads_there_and_still_names_the_tree(owner: Visitor) -> None:
    owner.call("PUT", "/settings", json={"public_url": "https://trees.example.org"})
    known = orchard(owner)
    tree = known["trees"]["b"]
    (text,) = codes_in(owner.call("GET", f"/tags.pdf?trees={tree[1]}").data)
    assert text == f"HTTPS://TREES.EXAMPLE.ORG/T/{tree[0]}"
    assert ids.read_tag_code(text) == tree[0]
    assert owner.client.get(f"/T/{tree[0]}").data == owner.client.get("/").data


def test_a_tag_says_what_the_grower_chose(owner: Visitor) -> None:
    owner.call("PUT", "/settings", json={"tag_extra": ["species", "source", "place", "pot_litres"]})
    known = orchard(owner)
    document = pypdfium2.PdfDocument(owner.call("GET", f"/tags.pdf?trees={known['trees']['a'][1]}").data)
    text = document[0].get_textpage().get_text_bounded()
    document.close()
    for part in ("Morning Bell", "Ficus carica", "swap", "Yard"):
        assert part in text


def test_the_width_asked_for_is_remembered(owner: Visitor) -> None:
    owner.call("GET", "/tags.pdf?blank=1&code_mm=16&paper=a4-8")
    owner.call("GET", "/tags.pdf?blank=1&paper=roll-50x30-203")
    widths = sorted(row[0] for row in execute("SELECT code_mm FROM tag").fetchall())
    assert widths[0] == 16
    # Whole dots a module: 8 dots a mm, 21 modules, 8 dots each.
    assert widths[1] == 21


def test_an_order_that_cannot_be_printed_is_refused(owner: Visitor) -> None:
    orchard(owner)
    for query, status in (
        ("blank=-1", 422),
        ("blank=1000000", 422),
        ("blank=x", 422),
        ("blank=1&paper=papyrus", 422),
        ("blank=1&code_mm=NaN", 422),
        ("blank=1&code_mm=500", 422),
        ("blank=1&code_mm=79", 422),
        (f"place={ids.new_id()}", 404),
        ("place=yard", 422),
        (f"trees={ids.new_id()}", 404),
        ("trees=a,b", 422),
        ("start=3", 422),
    ):
        answer = owner.call("GET", f"/tags.pdf?{query}")
        assert (answer.status_code, answer.mimetype) == (status, "application/problem+json"), query
    assert execute("SELECT count(*) FROM tag WHERE printed_ms IS NOT NULL").fetchone()[0] == 0


def test_the_papers_can_be_listed(helper: Visitor) -> None:
    listed = helper.call("GET", "/papers").json
    assert [each["name"] for each in listed["papers"]] == list(PAPERS)
    assert listed["default"] == PAPER_DEFAULT
