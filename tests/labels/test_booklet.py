"""Reports of several pages: what stands on them, where the dots of a plot are, and what is refused."""

from __future__ import annotations

import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labels.booklet import LACKING, Heading, Points, Table, Words, booklet_pdf
from labels.errors import LabelError
from labels.plots import FIGURES_SHARE, NAME_SHARE, PlotData, PlotRow, ticks

# ISO 216 and ANSI/ASME Y14.1, in mm.
PAGES_MM = {"a4": (210, 297), "letter": (215.9, 279.4)}
DPI = 200
PX_PER_MM = DPI / 25.4
MARGIN_MM = 18.0


def texts(pdf: bytes) -> list[str]:
    with pypdfium2.PdfDocument(pdf) as document:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def pictures(pdf: bytes) -> list[np.ndarray]:
    with pypdfium2.PdfDocument(pdf) as document:
        return [np.array(page.render(scale=DPI / 72).to_pil().convert("L")) for page in document]


def test_all_that_is_given_stands_on_the_page_as_text_in_its_order() -> None:
    blocks = [
        Heading("First & <foremost>"),
        Words("A line."),
        Points(["one", "two"]),
        Table(("Fruit", "Grams"), [("Λευκή", "12"), ("Осень", "7")], (2, 1)),
        PlotData([PlotRow("Amber", 5.0, 2.0, 8.0, "5 (2 to 8)"), PlotRow("Quill", None, None, None)], "grams a tree"),
    ]
    [page] = texts(booklet_pdf("The year", "As of today", blocks))
    wanted = (
        "The year", "As of today", "First & <foremost>", "A line.", "one", "two", "Fruit", "Grams", "Λευκή", "12",
        "Осень", "Amber", "5 (2 to 8)", "Quill", "not known",
    )  # fmt: skip
    assert all(each in page for each in wanted)
    found = [page.index(each) for each in wanted[:9]]
    assert found == sorted(found)
    assert LACKING not in page


@pytest.mark.parametrize("paper", sorted(PAGES_MM))
def test_the_page_is_the_papers_and_nothing_stands_in_its_margin(paper: str) -> None:
    wide = "Grey Lady of the Seven Terraces by the Old Mill Pond " * 4
    rows = [PlotRow(wide, n, n - 1, n + 1, wide) for n in range(90)]
    blocks = [
        Heading(wide),
        Words(wide),
        Points([wide] * 3),
        Table(("a", "b"), [(wide, wide)] * 40, (1, 3)),
        PlotData(rows, "g"),
    ]
    pages = pictures(booklet_pdf("The year", wide, blocks, paper))
    assert len(pages) > 3
    for page in pages:
        assert page.shape == pytest.approx([side * PX_PER_MM for side in reversed(PAGES_MM[paper])], abs=1)
        left = round((MARGIN_MM - 1) * PX_PER_MM)
        assert (page[:, :left] == 255).all() and (page[:, -left:] == 255).all()
        assert (page[:left] == 255).all() and (page[-round(6 * PX_PER_MM) :] == 255).all()
        # A printer without colour loses nothing: all ink is black or grey by its making; this is its darkness.
        assert page.min() < 60


def test_a_dot_stands_where_its_value_is_on_the_axis_and_its_band_reaches_its_ends() -> None:
    [page] = pictures(
        booklet_pdf("T", "", [PlotData([PlotRow("a", 30.0, 20.0, 90.0), PlotRow("b", 0.0, 0.0, 100.0)], "g")])
    )
    width_mm = PAGES_MM["a4"][0] - 2 * MARGIN_MM
    left_mm, right_mm = MARGIN_MM + NAME_SHARE * width_mm, MARGIN_MM + (1 - FIGURES_SHARE) * width_mm

    def at_px(value: float) -> float:
        return (left_mm + value / 100 * (right_mm - left_mm)) * PX_PER_MM

    dark = page < 100
    reach = slice(round(left_mm * PX_PER_MM) - 9, round(right_mm * PX_PER_MM) + 9)
    # Rows of pixels where a band runs: dark over at least half of the axis.
    bands = np.flatnonzero(dark[:, reach].sum(axis=1) > 0.5 * (right_mm - left_mm) * PX_PER_MM)
    groups = np.split(bands, np.flatnonzero(np.diff(bands) > 2) + 1)
    first, second = (int(np.median(group)) for group in groups[:2])
    for row, (low, high) in ((first, (20, 90)), (second, (0, 100))):
        ink = np.flatnonzero(dark[row, reach]) + reach.start
        assert (ink[0], ink[-1]) == pytest.approx((at_px(low), at_px(high)), abs=8)
    above = first - round(0.6 * PX_PER_MM)
    dot = np.flatnonzero(dark[above, round(at_px(25)) : round(at_px(85))]) + round(at_px(25))
    assert dot.mean() == pytest.approx(at_px(30), abs=1.5)


def test_a_long_plot_goes_on_over_the_page_with_its_axis_and_every_row_once() -> None:
    rows = [PlotRow(f"row{n:03}", n % 7, None, None, "") for n in range(150)]
    pages = texts(booklet_pdf("T", "", [Words("before"), PlotData(rows, "grams")]))
    assert len(pages) >= 3
    joined = " ".join(pages)
    assert all(joined.count(row.name) == 1 for row in rows)
    assert all("grams" in page for page in pages)
    assert all(sum(f"row{n:03}" in page for n in range(150)) >= 3 for page in pages)


def test_a_heading_is_not_left_alone_at_the_foot_of_a_page() -> None:
    for lines in range(25, 45):
        pages = texts(booklet_pdf("T", "", [*[Words("line")] * lines, Heading("Chapter"), Words("its words")]))
        (page,) = [page for page in pages if "Chapter" in page]
        assert "its words" in page


def test_letters_that_the_typeface_lacks_are_told() -> None:
    # Cuneiform and Hebrew: not in the face, and set from right to left.
    [page] = texts(booklet_pdf("T", "", [Words("a \U00012000 b \u05d0")]))
    assert f"a {LACKING} b {LACKING}" in page
    assert "lacks a letter" in page


def test_headings_are_the_outline_and_the_same_input_gives_the_same_bytes() -> None:
    blocks = [Heading("One"), Words("x"), Heading("Within", 2), Words("y"), Heading("Two"), Words("z")]
    pdf = booklet_pdf("T", "s", blocks)
    with pypdfium2.PdfDocument(pdf) as document:
        outline = [(item.get_title(), item.level) for item in document.get_toc()]
    assert outline == [("One", 0), ("Within", 1), ("Two", 0)]
    assert booklet_pdf("T", "s", blocks) == pdf


def test_what_cannot_be_set_is_refused() -> None:
    with pytest.raises(LabelError, match="a4, letter"):
        booklet_pdf("T", "", [], "a3")
    with pytest.raises(LabelError, match="too many"):
        booklet_pdf("T", "", [Words("x")] * 2001)
    with pytest.raises(LabelError, match="too many"):
        booklet_pdf("T", "", [PlotData([PlotRow("x", 1, None, None)] * 10_001, "g")])
    with pytest.raises(LabelError, match="a cell for each"):
        booklet_pdf("T", "", [Table(("a", "b"), [("1",)], (1, 1))])
    with pytest.raises(LabelError, match="finite"):
        ticks(0.0, float("nan"))


@given(st.floats(-1e9, 1e9), st.floats(0, 1e9), st.booleans())
def test_ticks_are_round_few_and_hold_the_range(low: float, span: float, whole: bool) -> None:
    high = low + span
    marks = ticks(low, high, whole)
    slack = 1e-6 * max(abs(low), abs(high), 1.0)
    assert marks[0] <= low + slack and marks[-1] >= high - slack
    assert 2 <= len(marks) <= 8
    assert marks == sorted(set(marks))
    if whole:
        assert all(float(mark).is_integer() for mark in marks)
