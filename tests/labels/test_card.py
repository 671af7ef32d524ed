"""The measuring card on both papers: printed, rendered and read back by an independent decoder and by its pixels."""

import numpy as np
import pypdfium2
import pytest
import zxingcpp

from labels.card import CARDS, card_pdf, find_card
from labels.errors import LabelError

PX_PER_MM = 12.0
# ISO 216 and ANSI/ASME Y14.1.
PAGES_MM = {"a4": (210, 297), "letter": (215.9, 279.4)}


@pytest.fixture(scope="module", params=sorted(CARDS))
def printed(request):
    """A card's plan and its page at PX_PER_MM."""
    with pypdfium2.PdfDocument(card_pdf(request.param)) as document:
        assert len(document) == 1
        page = document[0]
        points = [mm * 72 / 25.4 for mm in PAGES_MM[request.param]]
        assert page.get_size() == pytest.approx(points, abs=0.01)
        return CARDS[request.param], np.array(page.render(scale=PX_PER_MM * 25.4 / 72).to_pil().convert("L"))


def cut(picture, box, more_mm=0.0):
    x, y, width, height = box
    rows = slice(round((y - more_mm) * PX_PER_MM), round((y + height + more_mm) * PX_PER_MM))
    return picture[rows, round((x - more_mm) * PX_PER_MM) : round((x + width + more_mm) * PX_PER_MM)]


def test_each_corner_holds_its_code_to_the_tenth_of_a_millimetre(printed) -> None:
    plan, picture = printed
    found = {one.text for one in zxingcpp.read_barcodes(picture)}
    assert found == set(plan.codes)
    for box in plan.codes.values():
        dark = cut(picture, box, 3.0) < 128
        for axis in (0, 1):
            at = np.flatnonzero(dark.any(axis=axis)) / PX_PER_MM
            assert (at[0], at[-1]) == (pytest.approx(3.0, abs=0.12), pytest.approx(3.0 + box[2], abs=0.2))


def test_the_code_of_a_corner_says_which_it_is(printed) -> None:
    plan, _ = printed
    middle = np.array(plan.page_mm) / 2
    for text, (x, y, width, height) in plan.codes.items():
        south, east = y + height / 2 > middle[1], x + width / 2 > middle[0]
        assert text.endswith(("S" if south else "N") + ("E" if east else "W"))


def test_the_patterns_are_those_that_are_printed(printed) -> None:
    plan, picture = printed
    for text, rows in plan.patterns.items():
        x, y, width, _ = plan.codes[text]
        step = width / len(rows)
        for row, line in enumerate(rows):
            for column, dark in enumerate(line):
                at = round((y + (row + 0.5) * step) * PX_PER_MM), round((x + (column + 0.5) * step) * PX_PER_MM)
                assert (picture[at] < 128) == dark


def test_the_middle_is_blank(printed) -> None:
    plan, picture = printed
    across, down = plan.page_mm
    assert (cut(picture, (across / 2 - 65, down / 2 - 65, 130, 130)) == 255).all()
    assert (cut(picture, plan.blank) == 255).all()
    assert min(plan.blank[2:]) >= 130


def test_the_ruler_is_100_mm_long_and_has_a_stroke_each_millimetre(printed) -> None:
    plan, picture = printed
    row = cut(picture, plan.ruler, 1.0)[round((1.0 + 0.8) * PX_PER_MM)]
    starts = np.flatnonzero(np.diff((row < 140).astype(int)) == 1) / PX_PER_MM
    assert len(starts) == 101
    assert starts[-1] - starts[0] == pytest.approx(100, abs=0.1)
    assert np.diff(starts) == pytest.approx(np.ones(100), abs=0.1)


def test_the_greys_have_their_levels_in_two_opposite_rows(printed) -> None:
    plan, picture = printed
    for box, share in plan.greys:
        assert np.median(cut(picture, box, -1.0)) == pytest.approx(255 * share, abs=1.5)
    by_row = {}
    for (x, y, *_), share in plan.greys:
        by_row.setdefault(y, []).append((x, share))
    first, second = ([share for _, share in sorted(row)] for row in by_row.values())
    assert first == second[::-1]


def test_nothing_lies_where_printers_do_not_reach(printed) -> None:
    # Common practice, no published source: home printers leave up to 6.4 mm bare.
    _, picture = printed
    bare = round(6.4 * PX_PER_MM)
    inside = picture[bare:-bare, bare:-bare]
    assert (picture < 255).sum() == (inside < 255).sum()


def test_the_same_card_every_time_and_no_other_paper() -> None:
    assert card_pdf("a4") == card_pdf("A4 ")
    with pytest.raises(LabelError, match="a4, letter"):
        find_card("a3")
