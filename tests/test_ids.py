"""Ids and tag codes against their standards, and reading what people type."""

from __future__ import annotations

import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_36

from server import ids
from server.errors import BadTagCode

# RFC 9562, Appendix A.6, from memory: 2022-02-22 14:22:22 at -05:00 and the bits drawn for it.
RFC_MS, RFC_BITS = 0x017F22E279B0, 0xCC3 << 62 | 0x18C4DC0C0C07398F
RFC_ID = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
SYMBOLS = st.text(alphabet=ids.TAG_SYMBOLS, min_size=5, max_size=5)


def test_an_id_is_the_version_7_of_its_moment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ids, "now_ms", lambda: RFC_MS)
    with monkeypatch.context() as drawn:
        drawn.setattr(ids.secrets, "randbits", lambda _: RFC_BITS)
        assert ids.new_id() == RFC_ID
    made = {ids.new_id() for _ in range(2000)}
    assert len(made) == 2000
    assert {(uuid.UUID(each).version, uuid.UUID(each).variant, each[:13]) for each in made} == {
        (7, uuid.RFC_4122, RFC_ID[:13])
    }
    for moment_ms in (0, -1, 1 << 48):  # a clock that is quite wrong still gives ids
        monkeypatch.setattr(ids, "now_ms", lambda moment_ms=moment_ms: moment_ms)
        assert uuid.UUID(ids.new_id()).version == 7


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
