"""Every tag on every paper, printed at 300 dots an inch and read back by an independent decoder."""

from io import BytesIO

import numpy as np
import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from labels import PAPERS, Tag, label_png, print_tags
from labels.codes import QUIET_MODULES, make_code
from labels.papers import Roll
from labels.press import dots_per_module

DPI = 300
PX_PER_MM = DPI / 25.4
SHEETS = [name for name, paper in PAPERS.items() if not isinstance(paper, Roll)]
ROLLS = [name for name, paper in PAPERS.items() if isinstance(paper, Roll)]
PREFIXES = {"bare": "", "address": "HTTPS://TREES.EXAMPLE.ORG/T/"}
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
# Invented names: usual, short, long, without a break, with accents, Greek, Cyrillic, none.
VARIETIES = (
    "Amberline", "Ox", "Grey Lady of the Seven Terraces by the Old Mill Pond", "Hinterhofgartenspätlingsauslese",
    "Pânachée d'Été", "Λευκή Αυγή", "Осенний Свет", "",
)  # fmt: skip
LINES = ((), ("rooted 2024",), ("19 l", "from the east bench"), tuple(f"line {n} " * 6 for n in range(6)))


def tags_for(count, prefix=""):
    # A multiplier prime to 32^6 scatters the numbers over all codes, so that no two are alike.
    numbers = [(n + 1) * 382_771_919 % 32**6 for n in range(count)]
    codes = ["".join(ALPHABET[number // 32**k % 32] for k in range(6)) for number in numbers]
    return [Tag(c, prefix + c, VARIETIES[n % 8], LINES[n // 2 % 4]) for n, c in enumerate(codes)]


def pages(pdf):
    with pypdfium2.PdfDocument(pdf) as document:
        return [np.array(page.render(scale=DPI / 72).to_pil().convert("L")) for page in document]


def box_of_ink(picture):
    """First and last row and column with ink, as (top, bottom, left, right), ends excluded."""
    rows, columns = np.flatnonzero((picture < 128).any(axis=1)), np.flatnonzero((picture < 128).any(axis=0))
    return rows[0], rows[-1] + 1, columns[0], columns[-1] + 1


def check_code(picture, tag, code_mm, px_per_mm):
    """The one code in a picture of one label: its text, its width, and its white border."""
    found = zxingcpp.read_barcodes(Image.fromarray(picture), formats=zxingcpp.BarcodeFormat.QRCode)
    assert [one.text for one in found] == [tag.qr_text]
    corners = found[0].position
    width_px = code_mm * px_per_mm
    module_px = width_px / make_code(tag.qr_text).modules
    # The decoder says where the code is to a third of a module; its ink says it to the pixel.
    assert corners.top_right.x - corners.top_left.x == pytest.approx(width_px, abs=module_px / 3)
    assert corners.bottom_left.y - corners.top_left.y == pytest.approx(width_px, abs=module_px / 3)
    reach = round(2 * module_px)
    top, left = corners.top_left.y - reach, corners.top_left.x - reach
    inner = box_of_ink(picture[top : corners.bottom_left.y + reach, left : corners.top_right.x + reach])
    code = (inner[0] + top, inner[1] + top, inner[2] + left, inner[3] + left)
    assert code[1] - code[0] == pytest.approx(width_px, abs=1)
    assert code[3] - code[2] == pytest.approx(width_px, abs=1)
    check_border(picture, code, int(QUIET_MODULES * module_px), tag)
    return code


def check_border(picture, code, quiet_px, tag):
    """The border of four modules lies on the label, and is white to the last pixel."""
    top, bottom, left, right = code
    assert min(top, left) >= quiet_px
    assert bottom + quiet_px <= picture.shape[0]
    assert right + quiet_px <= picture.shape[1]
    around = picture[top - quiet_px : bottom + quiet_px, left - quiet_px : right + quiet_px].copy()
    around[quiet_px - 1 : 1 - quiet_px, quiet_px - 1 : 1 - quiet_px] = 255
    assert (around == 255).all(), f"ink in the white border of {tag.code}"


@pytest.mark.parametrize("kind", PREFIXES)
@pytest.mark.parametrize("name", SHEETS)
def test_every_label_of_a_sheet_is_read_at_its_width(name, kind):
    sheet = PAPERS[name]
    tags = tags_for(sheet.labels, PREFIXES[kind])
    [page] = pages(print_tags(tags, name, cut_marks=False).files[0][1])
    assert page.shape == pytest.approx([side * PX_PER_MM for side in reversed(sheet.page_mm)], abs=1)
    ink_left = page.copy()
    for n, tag in enumerate(tags):
        left, top = (round(mm * PX_PER_MM) for mm in sheet.corner_mm(n))
        right, bottom = left + round(sheet.label_mm[0] * PX_PER_MM), top + round(sheet.label_mm[1] * PX_PER_MM)
        label = page[top:bottom, left:right]
        check_code(label, tag, 20, PX_PER_MM)
        # Nothing is printed within 1 mm of a label's edge, nor on the foot of a stake.
        inside = box_of_ink(label)
        assert min(inside[0], inside[2]) >= PX_PER_MM
        assert inside[1] <= label.shape[0] - (sheet.foot_mm + 1) * PX_PER_MM
        assert inside[3] <= label.shape[1] - PX_PER_MM
        ink_left[top:bottom, left:right] = 255
    assert (ink_left == 255).all(), "ink beside the labels"


@pytest.mark.parametrize("kind", PREFIXES)
@pytest.mark.parametrize("name", ROLLS)
def test_a_label_printers_picture_has_whole_dots_a_module(name, kind):
    roll = PAPERS[name]
    for tag in tags_for(8, PREFIXES[kind]):
        picture = Image.open(BytesIO(label_png(tag, roll)))
        assert picture.mode == "1"
        assert picture.size == roll.dots
        assert picture.info["dpi"] == pytest.approx((roll.dots_per_mm * 25.4,) * 2, abs=0.1)
        code = make_code(tag.qr_text)
        module = dots_per_module(code, roll, 20)
        code_mm = print_tags([tag], name, ".png").code_mm[tag.code]
        assert code_mm == pytest.approx(module * code.modules / roll.dots_per_mm)
        assert abs(code_mm - 20) <= code.modules / roll.dots_per_mm / 2
        pixels = np.array(picture.convert("L"))
        top, bottom, left, right = check_code(pixels, tag, code_mm, roll.dots_per_mm)
        assert bottom - top == right - left == module * code.modules
        blocks = pixels[top:bottom, left:right].reshape(code.modules, module, code.modules, module)
        assert (blocks == blocks[:, :1, :, :1]).all()
        assert (np.array(code.rows) == (blocks[:, 0, :, 0] == 0)).all()


@pytest.mark.parametrize("name", ROLLS)
def test_a_roll_as_pdf_has_one_label_a_page_with_the_same_code_width(name):
    tags = tags_for(3)
    printed = print_tags(tags, name)
    printed_pages = pages(printed.files[0][1])
    assert len(printed_pages) == 3
    for page, tag in zip(printed_pages, tags, strict=True):
        check_code(page, tag, printed.code_mm[tag.code], PX_PER_MM)


def test_the_code_is_drawn_as_shapes():
    with pypdfium2.PdfDocument(print_tags(tags_for(24), "a4-24").files[0][1]) as document:
        kinds = {item.type for item in document[0].get_objects()}
    assert pypdfium2.raw.FPDF_PAGEOBJ_IMAGE not in kinds
    assert pypdfium2.raw.FPDF_PAGEOBJ_PATH in kinds


def test_texts_stand_in_the_pdf_as_text():
    with pypdfium2.PdfDocument(
        print_tags([Tag("7K3Q9F", "7K3Q9F", "Λευκή Αυγή", ("19 l",))], "a4-24").files[0][1]
    ) as pdf:
        text = pdf[0].get_textpage().get_text_bounded()
    assert [line.strip() for line in text.splitlines()] == ["7K3 Q9F", "Λευκή Αυγή", "19 l"]
