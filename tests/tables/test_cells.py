"""One cell: what is written is read back exactly, and no spreadsheet finds a formula in it."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from server.tables.cells import read_number, read_text, write_cell

# What the records keep as text: no control characters but tab and line feed, no surrogates, trimmed.
KEPT = st.text(
    st.one_of(
        st.sampled_from("=+-@'\",;\t\n ＝"),
        st.characters(exclude_categories=["Cs"], exclude_characters=[chr(c) for c in (*range(9), *range(11, 32), 127)]),
    )
).map(str.strip)
# The signs that OWASP's page “CSV Injection” lists as starting a formula.
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")


def cell_of(line: str) -> str:
    [[cell, after]] = list(csv.reader(io.StringIO(line + ",after\n"), strict=True))
    assert after == "after"
    return cell


@given(KEPT)
@example("'=1+1")
@example("''@x")
@example("it's")
@example("'tis")
def test_text_comes_back_exactly_and_starts_no_formula(text: str) -> None:
    cell = cell_of(write_cell(text))
    assert not cell.startswith(FORMULA_SIGNS)
    assert read_text(cell) == text


@given(KEPT)
def test_what_a_spreadsheet_would_split_at_is_quoted(text: str) -> None:
    written = write_cell(text)
    if any(sign in text for sign in ',;\t"\n'):
        assert written[0] == written[-1] == '"'


@given(st.one_of(st.integers(-(10**9), 10**9), st.floats(-1e9, 1e9)))
def test_a_number_comes_back_exactly(number: float) -> None:
    assert read_number(write_cell(number), decimal_comma=False) == number


def test_a_negative_number_is_not_defused() -> None:
    assert write_cell(-1.5) == "-1.5"


@pytest.mark.parametrize(
    ("cell", "comma", "value"),
    [
        ("1,5", True, 1.5),
        ("1,5", False, "1,5"),
        ("1.234,5", True, "1.234,5"),
        ("1,234,567", True, "1,234,567"),
        ("inf", False, "inf"),
        ("1_000", False, "1_000"),
        ("٣", False, "٣"),
        (" 7 ", False, 7),
        ("0x10", False, "0x10"),
    ],
)
def test_only_plain_numbers_are_numbers(cell: str, comma: bool, value: float | str) -> None:
    assert read_number(cell, comma) == value
