"""Tag codes: check characters against the standard's reference library, and reading what people type."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from server import ids
from server.errors import BadTagCode

SYMBOLS = st.text(alphabet=ids.TAG_SYMBOLS, min_size=5, max_size=5)


@given(st.text(alphabet=ids.CHECK_SYMBOLS, min_size=1, max_size=40))
def test_the_check_character_is_that_of_iso_7064_mod_37_36(symbols: str) -> None:
    # Reference: python-stdnum's implementation of ISO/IEC 7064:2003, MOD 37,36.
    assert ids.check_character(symbols) == mod_37_36.calc_check_digit(symbols)


def test_the_published_vector_holds() -> None:
    # Global Release Identifier standard, example A1-2425G-ABC1234002-M (as in python-stdnum's documentation).
    assert ids.check_character("A12425GABC1234002") == "M"


def test_fresh_codes_have_only_symbols_that_cannot_be_misread() -> None:
    codes = [ids.new_tag_code() for _ in range(500)]
    assert all(set(code) <= set(ids.TAG_SYMBOLS) and ids.read_tag_code(code) == code for code in codes)
    assert len(set(codes)) > 490


@given(SYMBOLS)
def test_every_way_of_writing_a_code_reads_the_same(symbols: str) -> None:
    code = symbols + ids.check_character(symbols)
    sloppy = code[:5].replace("1", "l").replace("0", "o") + code[5]
    for text in (
        code,
        f" {code[:3]} {code[3:]} ",
        f"{code[:3]}-{code[3:]}".lower(),
        sloppy,
        f"https://x.example/t/{code}/",
    ):
        assert ids.read_tag_code(text) == code


@given(SYMBOLS, st.integers(0, 4), st.sampled_from(ids.TAG_SYMBOLS))
def test_one_wrong_symbol_is_always_noticed(symbols: str, place: int, other: str) -> None:
    # ISO 7064 promises to detect every single substitution.
    check = ids.check_character(symbols)
    changed = symbols[:place] + other + symbols[place + 1 :]
    if changed != symbols and check in ids.TAG_SYMBOLS and ids.check_character(changed) in ids.TAG_SYMBOLS:
        with pytest.raises(BadTagCode, match="check character"):
            ids.read_tag_code(changed + check)


@pytest.mark.parametrize(
    "text", ["", "ABC", "ABCDEFG", "U2345A", "ABÇ123", "12345\x00", "https://x.example/", "/" * 400]
)
def test_what_is_no_code_is_refused_with_words(text: str) -> None:
    with pytest.raises(BadTagCode):
        ids.read_tag_code(text)
