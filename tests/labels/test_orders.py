"""What is asked of the printing: order, limits, refusals, the same bytes for the same input, speed."""

import subprocess
import sys
import time

import numpy as np
import pypdfium2
import pytest
import zxingcpp

from labels import PAPERS, LabelError, Tag, not_printed, print_tags
from labels.codes import make_code
from labels.layout import arrange
from tests.labels.test_prints import DPI, pages, tags_for

BLANK = Tag("7K3Q9F", "7K3Q9F")


def texts_by_place(page):
    found = zxingcpp.read_barcodes(page)
    row_px = 30 / 25.4 * DPI
    return [
        one.text for one in sorted(found, key=lambda o: (round(o.position.top_left.y / row_px), o.position.top_left.x))
    ]


def test_tags_go_on_in_order_from_the_first_free_label():
    tags = tags_for(30)
    printed = pages(print_tags(tags, "a4-24", start=22).files[0][1])
    assert [texts_by_place(page) for page in printed] == [
        [tag.code for tag in tags[:2]], [tag.code for tag in tags[2:26]], [tag.code for tag in tags[26:]],
    ]  # fmt: skip
    left, top = (round(mm * DPI / 25.4) for mm in PAPERS["a4-24"].corner_mm(22))
    assert (printed[0][:top] == 255).all()
    assert (printed[0][:, :left] == 255).all()


def test_the_same_input_gives_the_same_bytes_in_another_process():
    script = (
        "import sys; from labels import Tag, print_tags;"
        "tags = [Tag('7K3Q9F', '7K3Q9F', 'Осенний Свет', ('19 l',)), Tag('8M4R0G', '8M4R0G')];"
        "sys.stdout.buffer.write(print_tags(tags, 'a4-21').files[0][1])"
    )
    first, second = (
        subprocess.run(
            [sys.executable, "-c", script], capture_output=True, check=True, env={"PYTHONHASHSEED": seed}
        ).stdout
        for seed in ("1", "2")
    )
    assert first == second
    assert first.startswith(b"%PDF-")


def test_png_is_one_file_a_tag_and_pdf_one_file():
    tags = tags_for(3)
    assert [name for name, _ in print_tags(tags, "roll-50x30-203", "PNG").files] == [f"{t.code}.png" for t in tags]
    assert [name for name, _ in print_tags(tags, "A4-24", ".pdf").files] == ["tags.pdf"]


def test_another_width_is_kept_and_reported():
    printed = print_tags([BLANK], "a4-8", code_mm=40)
    [page] = pages(printed.files[0][1])
    corners = zxingcpp.read_barcode(page).position
    assert printed.code_mm == {"7K3Q9F": 40}
    assert corners.top_right.x - corners.top_left.x == pytest.approx(40 / 25.4 * DPI, abs=2)


def test_cut_lines_are_drawn_on_plain_paper_only_unless_asked_for():
    tag = [BLANK]
    plain, bare = (pages(print_tags(tag, "a4-cut-24", cut_marks=marks).files[0][1])[0] for marks in (None, False))
    assert (plain < 250).sum() > (bare < 250).sum()
    assert print_tags(tag, "a4-24").files == print_tags(tag, "a4-24", cut_marks=False).files
    assert print_tags(tag, "a4-24").files != print_tags(tag, "a4-24", cut_marks=True).files


def laid_out(tag, label_mm=(63.5, 33.9)):
    return arrange(tag, make_code(tag.qr_text), 20, label_mm)


def test_a_blank_tag_has_lines_to_write_on_with_room_for_a_pencil():
    blank, named = laid_out(BLANK), laid_out(Tag("7K3Q9F", "7K3Q9F", "Amberline"))
    assert [text.text for text in blank.texts] == ["7K3 Q9F"]
    assert len(named.rules) == 1
    heights_mm = np.diff([rule.y_mm for rule in blank.rules])
    assert len(heights_mm) >= 1
    assert (heights_mm >= 6).all()


def test_long_texts_are_cut_short_with_an_ellipsis_and_short_ones_are_not():
    long = laid_out(Tag("7K3Q9F", "7K3Q9F", "Wintergreen " * 16, ("behind the potting shed " * 8,)))
    assert any(text.text.endswith("…") for text in long.texts)
    short = laid_out(Tag("7K3Q9F", "7K3Q9F", "Amberline", ("19 l", "rooted 2024")))
    assert [text.text for text in short.texts] == ["7K3 Q9F", "Amberline", "19 l", "rooted 2024"]


def test_a_name_that_the_fonts_cannot_draw_gets_a_line_to_write_on_and_is_reported():
    tags = [Tag("7K3Q9F", "7K3Q9F", "秋の光", ("תאנה", "19 l")), Tag("8M4R0G", "8M4R0G", "Amberline")]
    art = laid_out(tags[0])
    assert [text.text for text in art.texts] == ["7K3 Q9F", "19 l"]
    assert len(art.rules) == 2
    assert not_printed(tags) == ["秋の光", "תאנה"]


def test_line_breaks_and_control_characters_become_spaces():
    tag = Tag("7K3Q9F", "7K3Q9F", "Amber\nline\x00 two\u2028three", ("  ", "\t19 l "))
    assert (tag.variety, tag.lines) == ("Amber line two three", ("19 l",))


@pytest.mark.parametrize(
    ("order", "message"),
    [
        ({"tags": []}, "no tag to print"),
        ({"tags": [BLANK] * 2001}, "2001 tags are more than the 2000"),
        ({"paper": "a4-25"}, "Did you mean .*a4-24"),
        ({"paper": "parchment"}, "Known papers: a4-24"),
        ({"code_mm": 9}, "10 to 80 mm"),
        ({"code_mm": float("nan")}, "10 to 80 mm"),
        ({"code_mm": 26}, r"does not fit a label of 63.5 x 33.9 .* take a code of 2\d mm or choose .*a4-8"),
        ({"code_mm": 80}, "does not fit"),
        ({"start": 24}, "0 to 23 can be used up"),
        ({"start": -1}, "0 to 23 can be used up"),
        ({"paper": "roll-50x30-203", "start": 1}, "no used labels"),
        ({"suffix": ".png"}, "is a sheet.*choose a roll: roll-50x30-203"),
        ({"suffix": ".svg"}, "ending in .pdf"),
    ],
)  # fmt: skip
def test_orders_that_cannot_be_printed_are_refused(order, message):
    with pytest.raises(LabelError, match=message):
        print_tags(**{"tags": [BLANK], "paper": "a4-24", **order})


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"code": "7K3-Q9"}, "letters and digits"),
        ({"code": ""}, "letters and digits"),
        ({"variety": "x" * 201}, "at most 200"),
        ({"lines": ("x" * 201,)}, "at most 200"),
        ({"lines": ("x",) * 7}, "room for 6"),
    ],
)  # fmt: skip
def test_tags_beyond_the_limits_are_refused(fields, message):
    with pytest.raises(LabelError, match=message):
        Tag(**{"code": "7K3Q9F", "qr_text": "7K3Q9F", **fields})


def test_the_width_that_a_refusal_offers_does_fit():
    with pytest.raises(LabelError, match="does not fit") as refusal:
        print_tags([BLANK], "a4-24", code_mm=26)
    offered_mm = float(str(refusal.value).split("take a code of ")[1].split(" mm")[0])
    assert print_tags([BLANK], "a4-24", code_mm=offered_mm).code_mm == {"7K3Q9F": offered_mm}


@pytest.mark.benchmark
def test_three_hundred_tags_are_printed_within_seconds():
    tags = tags_for(300, "HTTPS://TREES.EXAMPLE.ORG/T/")
    start = time.process_time()
    pdf = print_tags(tags, "a4-24").files[0][1]
    seconds = time.process_time() - start
    print(f"300 tags on a4-24: {seconds:.2f} s of one core, {len(pdf) / 1024:.0f} KiB")
    with pypdfium2.PdfDocument(pdf) as document:
        assert len(document) == 13
    assert seconds < 4
