"""The square codes against ISO/IEC 18004 and an independent decoder."""

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from labels import LabelError
from labels.codes import QUIET_MODULES, make_code

ADDRESS = "HTTPS://TREES.EXAMPLE.ORG/T/7K3Q9F"


def drawn(code, module=4):
    rows = np.pad(np.array(code.rows), QUIET_MODULES)
    return Image.fromarray(np.kron(np.where(rows, 0, 255), np.ones((module, module))).astype(np.uint8))


def test_a_bare_code_is_the_smallest_version_at_the_best_correction():
    # ISO/IEC 18004, capacities in alphanumeric mode (from memory): version 1 holds 10 characters at H.
    code = make_code("7K3Q9F")
    assert (code.version, code.level, code.modules) == (1, "H", 21)


# Alphanumeric capacities at levels H and Q (ISO/IEC 18004, from memory; the decoder below confirms each symbol).
@pytest.mark.parametrize(
    ("length", "version", "level"),
    [(10, 1, "H"), (11, 1, "Q"), (16, 1, "Q"), (17, 2, "H"), (20, 2, "H"), (21, 2, "Q"), (29, 2, "Q"), (30, 3, "H"),
     (36, 3, "Q"), (47, 3, "Q"), (108, 6, "Q")],
)  # fmt: skip
def test_version_and_correction_by_length(length, version, level):
    code = make_code("A" * length)
    assert (code.version, code.level) == (version, level)
    assert code.modules == 17 + 4 * version
    found = zxingcpp.read_barcode(drawn(code))
    assert found.text == "A" * length
    assert found.ec_level == level


def test_an_address_is_read_back():
    found = zxingcpp.read_barcode(drawn(make_code(ADDRESS)))
    assert found.text == ADDRESS


@pytest.mark.parametrize("share", [0.05, 0.1])
def test_a_code_survives_a_torn_corner(share):
    """Level H repairs up to 30 % of the codewords; a torn corner without a finder pattern is far less."""
    code = make_code("7K3Q9F")
    picture = np.array(drawn(code))
    edge = round(picture.shape[0] * (QUIET_MODULES + code.modules) / (code.modules + 2 * QUIET_MODULES))
    torn = round(share**0.5 * 4 * code.modules)
    picture[edge - torn : edge, edge - torn : edge] = 255
    assert zxingcpp.read_barcode(Image.fromarray(picture)).text == "7K3Q9F"


def test_rectangles_cover_the_dark_modules_once():
    for text in ("7K3Q9F", ADDRESS):
        code = make_code(text)
        painted = np.zeros((code.modules, code.modules), int)
        for x, y, width, height in code.rectangles():
            painted[y : y + height, x : x + width] += 1
        assert (painted == np.array(code.rows)).all()


@pytest.mark.parametrize("text", ["", "https://trees.example.org/t/7K3Q9F", "FIG?", "Ü", "A" * 109])
def test_texts_that_no_tag_can_carry_are_refused(text):
    with pytest.raises(LabelError, match=r"capital letters|shorter address"):
        make_code(text)
